"""The second look at the bench: findings, draft and signature. Nothing here writes to the first result."""

from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from academy.errors import Conflict, DomainError
from academy.jobs import enqueue
from academy.models import Membership
from academy.services.audit import record
from assessments.models import DiscussionNote, SecondGrade, SecondLevel, SecondMark, SecondMarkEvent
from assessments.scoring.entry import EntryProblem, FinalMark, MarkEntry, as_data, resolve
from assessments.selectors.marking import Marking
from assessments.selectors.second_marks import locked_second_mark, own_second_mark, second_marking
from assessments.services.gate import marks_changed
from assessments.services.inspections import Sheet, close_second_look, record_finding
from assessments.services.marking import MarksIncomplete
from assessments.services.sets import BenchEvent, EventRefused, EventResult, SentElsewhere

MAX_TEXT = 2000


class NotOpen(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "second_mark_closed", "This second mark is no longer waiting. Reload the page to see where it is."
        )


def _held(actor: Membership, uid: UUID) -> SecondMark:
    return locked_second_mark(own_second_mark(actor, uid))


@transaction.atomic
def apply_second_events(
    *, actor: Membership, uid: UUID, events: Sequence[BenchEvent], now: datetime
) -> list[EventResult]:
    """Findings of the second look in order; each stands or falls alone, and a repeat changes nothing."""
    second_mark = _held(actor, uid)
    if second_mark.state != SecondMark.State.OPEN:
        raise NotOpen
    uids = [event.uid for event in events]
    known = dict(SecondMarkEvent.objects.filter(uid__in=uids).values_list("uid", "second_mark_id"))
    sheet = Sheet(second_mark.practice_set, second_mark.inspection)
    results: list[EventResult] = []
    applied: list[BenchEvent] = []
    for event in events:
        if event.uid in known:
            results.append(_repeated(event, known[event.uid] == second_mark.pk))
            continue
        known[event.uid] = second_mark.pk
        results.append(_apply(second_mark, sheet, event, now))
        if results[-1].status == "applied":
            applied.append(event)
    sheet.write()
    _keep(second_mark, applied, now)
    return results


def _keep(second_mark: SecondMark, events: Sequence[BenchEvent], now: datetime) -> None:
    rows = [
        SecondMarkEvent(
            second_mark=second_mark, uid=event.uid, kind=event.kind, received_at=now, data=dict(event.data)
        )
        for event in events
    ]
    try:
        with transaction.atomic():
            SecondMarkEvent.objects.bulk_create(rows)
    except IntegrityError as error:  # the uid became known after we looked
        raise SentElsewhere from error


def _repeated(event: BenchEvent, is_here: bool) -> EventResult:
    if is_here:
        return EventResult(event.uid, "repeated")
    elsewhere = EventRefused("event_elsewhere", "This was already recorded elsewhere. Reload the page.")
    return EventResult(event.uid, "refused", elsewhere)


def _apply(second_mark: SecondMark, sheet: Sheet, event: BenchEvent, now: datetime) -> EventResult:
    # A finding is checked before it is noted, so refusing it leaves nothing to undo.
    undo = nullcontext() if event.kind == "position" else transaction.atomic()
    if event.kind != "position":
        sheet.write()
    try:
        with undo:
            _happen(second_mark, sheet, event, now)
    except DomainError as problem:
        return EventResult(event.uid, "refused", problem)
    return EventResult(event.uid, "applied")


def _happen(second_mark: SecondMark, sheet: Sheet, event: BenchEvent, now: datetime) -> None:
    if event.unreadable:
        raise EventRefused("bad_event", event.unreadable)
    if event.kind == "position":
        record_finding(practice_set=second_mark.practice_set, data=event.data, now=now, sheet=sheet)
    elif event.kind == "inspect":
        close_second_look(inspection=second_mark.inspection, inspector=second_mark.assigned_to, now=now)
    else:
        raise EventRefused("not_now", "A second look only inspects and marks; its clock has long stopped.")


@transaction.atomic
def save_second_draft(*, actor: Membership, uid: UUID, entry: MarkEntry, now: datetime) -> SecondMark:
    """Keep what is entered so far. Only one person can enter it, so the last word counts."""
    second_mark = _held(actor, uid)
    if second_mark.state != SecondMark.State.OPEN:
        raise NotOpen
    second_mark.draft, second_mark.draft_saved_at = as_data(entry), now
    second_mark.save(update_fields=["draft", "draft_saved_at"])
    return second_mark


@transaction.atomic
def sign_second_mark(
    *, actor: Membership, uid: UUID, entry: MarkEntry, event_uid: UUID, now: datetime
) -> SecondGrade:
    """Make the second result final; sent twice with one ``event_uid`` it answers what it made first."""
    second_mark = _held(actor, uid)
    if SecondMarkEvent.objects.filter(uid=event_uid, second_mark=second_mark, kind="grade").exists():
        return SecondGrade.objects.get(second_mark=second_mark)
    if second_mark.state != SecondMark.State.OPEN:
        raise NotOpen
    if second_mark.inspection.closed_at is None:
        raise Conflict("not_inspected", "Close the inspection of this set before signing its marks.")
    grade = _write(second_mark, actor, entry, now)
    _keep(second_mark, [BenchEvent(uid=event_uid, kind="grade")], now)
    second_mark.state, second_mark.closed_at = SecondMark.State.DONE, now
    second_mark.draft, second_mark.draft_saved_at = {}, None
    second_mark.save(update_fields=["state", "closed_at", "draft", "draft_saved_at"])
    record(actor, "sign_second_mark", grade, now=now)
    marks_changed(student=second_mark.practice_set.student, now=now)
    enqueue("assessments.tasks.compute_agreement", academy_id=actor.academy_id)
    return grade


def _write(second_mark: SecondMark, actor: Membership, entry: MarkEntry, now: datetime) -> SecondGrade:
    found = second_marking(second_mark, entry)
    # A second look comes after the work, so a gate such as hygiene may stay without a level.
    specs = [replace(spec, is_gate=False) for spec in found.specs]
    marks, problems = resolve(specs, found.proposals, entry)
    if problems or not marks:
        raise MarksIncomplete(problems or [EntryProblem("note", "Choose at least one level, then sign.")])
    grade = SecondGrade.objects.create(
        second_mark=second_mark,
        entry=as_data(entry),
        note=entry.note.strip(),
        signed_by=actor,
        signed_at=now,
    )
    _write_levels(grade, found, marks)
    return grade


def _write_levels(grade: SecondGrade, found: Marking, marks: Sequence[FinalMark]) -> None:
    rows = {criterion.code: criterion for criterion in found.criteria}
    SecondLevel.objects.bulk_create(
        SecondLevel(
            grade=grade,
            criterion=rows[mark.code],
            level=mark.level,
            proposed=mark.proposal.level,
            override_reason=mark.reason,
            words=mark.proposal.words,
        )
        for mark in marks
    )


@transaction.atomic
def note_on_second_mark(
    *, actor: Membership, second_mark: SecondMark, text: str, now: datetime
) -> DiscussionNote:
    """What the educators agreed about the differences; each note stays as written."""
    if second_mark.state != SecondMark.State.DONE:
        raise Conflict("not_signed", "There is nothing to discuss before the second mark is signed.")
    said = note_text(text)
    return DiscussionNote.objects.create(second_mark=second_mark, author=actor, text=said, at=now)


def note_text(text: str) -> str:
    """The note without blanks around it; refuses an empty one and one that is too long."""
    said = text.strip()
    if not said:
        raise DomainError("empty_note", "Write what you agreed, then keep it.", field="text")
    if len(said) > MAX_TEXT:
        message = f"The note has {len(said)} characters. Shorten it to {MAX_TEXT}."
        raise DomainError("note_too_long", message, field="text")
    return said
