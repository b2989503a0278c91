from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import IntegrityError, transaction

from academy.errors import Conflict, DomainError, NotHere
from academy.jobs import enqueue
from academy.models import Academy, Membership
from academy.services.audit import record
from assessments.models import Grade, Inspection, Mark, MarkingDraft, PracticeSet, SetEvent
from assessments.scoring.entry import EntryProblem, FinalMark, MarkEntry, as_data, resolve
from assessments.scoring.timing import EventKind, SetState, next_state
from assessments.selectors.marking import Marking, hygiene_lines, inspection_of, marking
from assessments.selectors.sets import locked_set
from assessments.services.second_choice import choose_second_mark
from assessments.services.skill import refresh_standings
from courses.models import Drill
from courses.selectors.catalogue import every_drill


class MarksIncomplete(DomainError):
    """Something still stands in the way of signing; ``problems`` says what and where."""

    def __init__(self, problems: Sequence[EntryProblem]) -> None:
        super().__init__("marks_incomplete", problems[0].message, field=problems[0].field)
        self.problems = tuple(problems)


@dataclass(frozen=True, slots=True)
class Correction:
    """What a draft of a correction says beside its marks: the revision it corrects, and why so far."""

    revision: int
    why: str = ""


class DraftMovedOn(Conflict):
    """Somebody else saved since this draft was read; ``current`` is theirs."""

    def __init__(self, current: MarkingDraft) -> None:
        by = current.saved_by.name
        super().__init__(
            "draft_moved_on", f"{by} has saved other marks for this set meanwhile. Choose which to keep."
        )
        self.current = current


class AlreadySigned(Conflict):
    def __init__(self, grade: Grade) -> None:
        super().__init__(
            "already_signed",
            f"{grade.signed_by.name} has signed the marks of this set (revision {grade.revision}) meanwhile. "
            "Read them, then correct what differs.",
        )


class SignFormUsed(Conflict):
    def __init__(self) -> None:
        super().__init__("form_used", "This form has already been used. Reload the page and sign there.")


@transaction.atomic
def save_draft(
    *,
    actor: Membership,
    uid: UUID,
    entry: MarkEntry,
    base: datetime | None,
    now: datetime,
    correction: Correction | None = None,
) -> MarkingDraft:
    """Keep what is entered so far. ``base``: when the draft it builds on was saved, None for a first one.

    Signed marks take only the draft of a correction, and only of their newest revision.
    """
    practice_set = locked_set(actor.academy, uid)
    if correction is None and practice_set.state not in {SetState.FINISHED, SetState.INSPECTED}:
        raise Conflict("not_marking", "This set is not open for marks. Reload the page to see where it is.")
    if correction is not None and (newest := _newest(practice_set)).revision != correction.revision:
        raise AlreadySigned(newest)
    draft = MarkingDraft.objects.select_related("saved_by__user").filter(practice_set=practice_set).first()
    if draft is not None and draft.saved_at != base and draft.saved_by_id != actor.pk:
        raise DraftMovedOn(draft)
    data = as_data(entry) | (asdict(correction) if correction else {})
    draft, _ = MarkingDraft.objects.update_or_create(
        practice_set=practice_set, defaults={"data": data, "saved_by": actor, "saved_at": now}
    )
    return draft


@transaction.atomic
def sign_marks(*, actor: Membership, uid: UUID, entry: MarkEntry, event_uid: UUID, now: datetime) -> Grade:
    """Make the marks final; sent twice with one ``event_uid`` it answers the grade made the first time."""
    practice_set = locked_set(actor.academy, uid)
    if practice_set.state != SetState.INSPECTED:
        return _signed_before(practice_set, event_uid)
    _keep_event(practice_set, actor, event_uid, now)
    grade, after = _write_grade(practice_set, actor, entry, revision=1, reason="", now=now)
    practice_set.state = next_state(SetState.INSPECTED, EventKind.GRADE).value
    practice_set.graded_at = now
    practice_set.save(update_fields=["state", "graded_at"])
    MarkingDraft.objects.filter(practice_set=practice_set).delete()
    record(actor, "sign_marks", grade, now=now, after=after)
    choose_second_mark(grade=grade, now=now)
    _announce(grade, practice_set, now)
    return grade


def _signed_before(practice_set: PracticeSet, event_uid: UUID) -> Grade:
    """The grade that this form made, or why the set takes no first marks."""
    if _is_repeat(practice_set, event_uid):
        return Grade.objects.get(practice_set=practice_set, revision=1)
    signed = Grade.objects.filter(practice_set=practice_set).select_related("signed_by__user").first()
    if signed is not None:
        raise AlreadySigned(signed)
    raise Conflict("not_inspected", "Close the inspection of this set before signing its marks.")


def _is_repeat(practice_set: PracticeSet, event_uid: UUID) -> bool:
    known = SetEvent.objects.filter(uid=event_uid).first()
    if known is None:
        return False
    if known.practice_set_id != practice_set.pk or known.kind != EventKind.GRADE:
        raise SignFormUsed
    return True


def _keep_event(practice_set: PracticeSet, actor: Membership, uid: UUID, now: datetime) -> None:
    try:
        with transaction.atomic():
            SetEvent.objects.create(
                practice_set=practice_set, uid=uid, kind=EventKind.GRADE, at=now, received_at=now, actor=actor
            )
    except IntegrityError as error:  # it was sent for another set, or is another step of this one
        raise SignFormUsed from error


@transaction.atomic
def correct_marks(
    *,
    actor: Membership,
    uid: UUID,
    entry: MarkEntry,
    reason: str,
    base_revision: int,
    now: datetime,
) -> Grade:
    """Sign a new revision; the earlier ones stay readable. ``base_revision``: the one it corrects.

    Sent twice with the same content it answers the revision made the first time.
    """
    practice_set = locked_set(actor.academy, uid)
    newest = _newest(practice_set)
    if newest.revision != base_revision:
        if _says(newest, actor, entry, reason, base_revision + 1):
            return newest
        raise AlreadySigned(newest)
    why = reason.strip()
    if not why:
        raise MarksIncomplete([EntryProblem("reason", "Say why the signed marks are corrected.")])
    grade, after = _write_grade(practice_set, actor, entry, revision=base_revision + 1, reason=why, now=now)
    MarkingDraft.objects.filter(practice_set=practice_set).delete()
    record(actor, "correct_marks", grade, now=now, reason=why, before=_summary(newest), after=after)
    _announce(grade, practice_set, now)
    return grade


def _newest(practice_set: PracticeSet) -> Grade:
    found = Grade.objects.filter(practice_set=practice_set).select_related("signed_by__user").first()
    if found is None:
        raise NotHere("signed mark")
    return found


def _says(grade: Grade, actor: Membership, entry: MarkEntry, reason: str, revision: int) -> bool:
    """Whether this very correction is already signed: a form sent twice."""
    same = (grade.revision, grade.signed_by_id, grade.reason) == (revision, actor.pk, reason.strip())
    return same and grade.entry == as_data(entry)


def _write_grade(
    practice_set: PracticeSet,
    actor: Membership,
    entry: MarkEntry,
    *,
    revision: int,
    reason: str,
    now: datetime,
) -> tuple[Grade, dict[str, object]]:
    """The revision, and what the audit says of it."""
    inspection = inspection_of(practice_set)
    found, marks, drill = _judge(practice_set, inspection, entry)
    grade = Grade.objects.create(
        practice_set=practice_set,
        inspection=inspection,
        revision=revision,
        reason=reason,
        note=entry.note.strip(),
        drill=drill,
        drill_count=(entry.drill_count or drill.count_target) if drill else None,
        drill_due_on=_due_on(practice_set.academy, now) if drill else None,
        score=found.result.score,
        gates_passed=found.result.gates_passed,
        entry=as_data(entry),
        verdict=_verdict(found),
        signed_by=actor,
        signed_at=now,
    )
    _write_marks(grade, found, marks)
    return grade, _said(grade, {mark.code: mark.level for mark in marks})


def _judge(
    practice_set: PracticeSet, inspection: Inspection, entry: MarkEntry
) -> tuple[Marking, tuple[FinalMark, ...], Drill | None]:
    """What would be signed, or MarksIncomplete with everything that stands in the way."""
    found = marking(practice_set, inspection, entry)
    marks, problems = resolve(found.specs, found.proposals, entry)
    drill, drill_problems = _drill(entry)
    if blocking := (*problems, *_line_problems(practice_set, entry), *drill_problems):
        raise MarksIncomplete(blocking)
    return found, marks, drill


def _write_marks(grade: Grade, found: Marking, marks: Sequence[FinalMark]) -> None:
    rows = {criterion.code: criterion for criterion in found.criteria}
    Mark.objects.bulk_create(
        Mark(
            grade=grade,
            criterion=rows[mark.code],
            level=mark.level,
            proposed=mark.proposal.level,
            override_reason=mark.reason,
            words=mark.proposal.words,
            faults=mark.proposal.faults,
            inspected=mark.proposal.inspected,
            value=mark.proposal.value,
        )
        for mark in marks
    )


def _verdict(found: Marking) -> dict[str, object]:
    result = found.result
    return {
        "gates": [asdict(gate) for gate in result.gates],
        "time_credit": result.time_credit,
        "words": list(result.words),
        "worst": [asdict(rate) for rate in found.rates[:2]],
    }


def _drill(entry: MarkEntry) -> tuple[Drill | None, list[EntryProblem]]:
    if not entry.drill:
        return None, []
    drill = next((drill for drill in every_drill() if drill.code == entry.drill), None)
    unknown = [EntryProblem("drill", f"There is no drill {entry.drill}. Choose one from the list.")]
    return drill, [] if drill else unknown


def _line_problems(practice_set: PracticeSet, entry: MarkEntry) -> list[EntryProblem]:
    known = {line.code for line in hygiene_lines(practice_set.rubric)}
    unknown = [code for code in entry.lines_missed or () if code not in known]
    return [
        EntryProblem("lines_done", f"{code} is no hygiene line of this rubric. Reload.") for code in unknown
    ]


def _due_on(academy: Academy, now: datetime) -> date:
    return academy.date_of(now) + timedelta(days=academy.drill_days)


def _summary(grade: Grade) -> dict[str, object]:
    return _said(grade, dict(grade.marks.values_list("criterion__code", "level")))


def _said(grade: Grade, levels: Mapping[str, int]) -> dict[str, object]:
    return {"revision": grade.revision, "levels": levels, "gates_passed": grade.gates_passed}


def _announce(grade: Grade, practice_set: PracticeSet, now: datetime) -> None:
    refresh_standings(student=practice_set.student, now=now, signed=grade)
    enqueue("assessments.tasks.send_feedback", grade_id=grade.pk)
