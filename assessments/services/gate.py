"""The gate to live models: signed by two people on one evidence, closed by itself or by hand."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from academy.errors import Conflict, Denied, DomainError
from academy.jobs import enqueue
from academy.models import Academy, Membership
from academy.services.audit import record
from assessments.models import GateClosing, GateOpening, GateSignature, GateStanding
from assessments.scoring.gate_state import EDUCATOR, STUDENT
from assessments.scoring.readiness_facts import Condition
from assessments.selectors.readiness import Readiness, readiness_of
from assessments.selectors.second_marks import MarkingBlind, waiting_for
from courses.models import Enrolment

MOST_WORDS = 1000


class GateConditionUnmet(DomainError):
    """``missing`` are the conditions that stand in the way."""

    def __init__(self, missing: tuple[Condition, ...]) -> None:
        names = ", ".join(each.name for each in missing) or "no programme asks for anything yet"
        super().__init__(
            "gate_condition_unmet",
            f"The gate cannot be signed: not every condition is met ({names}). Nothing was signed. "
            "The readiness page says what is missing.",
            missing=tuple(each.code for each in missing),
        )


class EvidenceMovedOn(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "evidence_moved_on",
            "What the gate rests on has changed since you opened the page. Read it again, then sign.",
        )


class AlreadySignedGate(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "gate_signed",
            "Your side has already signed this evidence. The gate opens with the other signature.",
        )


class GateIsOpen(Conflict):
    def __init__(self) -> None:
        super().__init__("gate_is_open", "The gate is open already; there is nothing to sign.")


class GateNotOpen(Conflict):
    def __init__(self) -> None:
        super().__init__("gate_not_open", "The gate is not open, so it cannot be closed. Reload the page.")


class NotYourSignature(Denied):
    def __init__(self) -> None:
        super().__init__(
            "not_your_signature",
            "The gate is signed by the student herself and by an educator of her academy, nobody else.",
        )


class ReasonMissing(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "reason_missing",
            f"Say in up to {MOST_WORDS} characters why the gate is closed; the student reads it.",
            field="reason",
        )


@transaction.atomic
def sign_gate(*, student: Membership, actor: Membership, seen: str, now: datetime) -> Readiness:
    """One signature; with the other side's on the same evidence the gate opens.

    ``seen``: the basis of the evidence that the person had before her. Every condition is judged here, under
    a lock that marks and consents of this student wait for.
    """
    found = _settled(student, now)
    side = _side(found.student, actor)
    signature = GateSignature.objects.create(
        student=student,
        enrolment=_agreed(found, side, seen),
        side=side,
        signed_by=actor,
        evidence=_evidence(found),
        at=now,
    )
    record(actor, "sign_gate", signature, now=now, after={"side": side, "basis": seen})
    if found.standing:
        _open(found, signature, found.standing[-1], now)
    return _keep_standing(readiness_of(found.student, now=now), now)


@transaction.atomic
def close_gate(*, student: Membership, actor: Membership, reason: str, now: datetime) -> GateClosing:
    """By hand and for a reason, by staff; it opens again only by two new signatures."""
    if not _is_staff_of(student, actor):
        raise NotYourSignature
    why = reason.strip()
    if not why or len(why) > MOST_WORDS:
        raise ReasonMissing
    found = _settled(student, now)
    if not found.is_open or found.opening is None:
        raise GateNotOpen
    closing = _close(found.opening, GateClosing.Kind.BY_HAND, why, at=now, now=now, by=actor)
    record(actor, "close_gate", closing, now=now, reason=why)
    _keep_standing(readiness_of(found.student, now=now), now)
    return closing


@transaction.atomic
def watch_gate(*, student: Membership, now: datetime) -> Readiness:
    """Write down a lapse or a condition that has fallen away, and where the gate stands."""
    return _keep_standing(_settled(student, now), now)


def marks_changed(*, student: Membership, now: datetime) -> None:
    """An open gate is judged in the transaction of the marks; where another stands is told soon after."""
    if GateOpening.objects.filter(student=student, closing=None).exists():
        watch_gate(student=student, now=now)
    else:
        enqueue("assessments.tasks.watch_gate", student_id=student.pk)


def record_lapses(*, academy: Academy, now: datetime) -> int:
    """The same for everybody whose gate is open or waits, each by itself; gives how many openings ended."""
    moving = GateStanding.objects.filter(student__academy=academy).exclude(
        state__in=[GateStanding.State.SHUT, GateStanding.State.LAPSED]
    )
    held = Membership.objects.filter(
        academy=academy, gate_openings__closing=None, gate_openings__isnull=False
    )
    wanted = {*moving.values_list("student", flat=True), *held.values_list("pk", flat=True)}
    before = GateClosing.objects.filter(opening__student__in=wanted).count()
    for student in Membership.objects.filter(pk__in=wanted).select_related("academy", "user").order_by("pk"):
        watch_gate(student=student, now=now)
    return GateClosing.objects.filter(opening__student__in=wanted).count() - before


def _side(student: Membership, actor: Membership) -> str:
    if actor.pk == student.pk and student.is_current:
        return STUDENT
    if _is_staff_of(student, actor):
        _refuse_blind(student, actor)
        return EDUCATOR
    raise NotYourSignature


def _is_staff_of(student: Membership, actor: Membership) -> bool:
    return actor.academy_id == student.academy_id and actor.is_staff_here and actor.is_current


def _refuse_blind(student: Membership, actor: Membership) -> None:
    """Who marks one of the student's sets blind may not look at the evidence yet, so she cannot sign it."""
    if found := waiting_for(actor, student).first():
        raise MarkingBlind(found)


def _settled(student: Membership, now: datetime) -> Readiness:
    """Where the gate stands, locked until the transaction ends, with an opening that is over written down."""
    rows = Membership.objects.select_related("academy", "user").select_for_update(of=("self",))
    student = rows.get(pk=student.pk)  # signatures, marks and consents take turns
    found = readiness_of(student, now=now)
    opening = found.opening
    if opening is None or found.record.closing is not None or found.is_open:
        return found
    if found.ended == GateClosing.Kind.LAPSE:
        words = f"No graded set for {found.lapse_days} days."
        _close(opening, GateClosing.Kind.LAPSE, words, at=found.ended_at or now, now=now)
    else:
        _close(opening, GateClosing.Kind.CONDITIONS, _fallen(found), at=found.ended_at or now, now=now)
    return readiness_of(student, now=now)


def _agreed(found: Readiness, side: str, seen: str) -> Enrolment:
    """The enrolment that may be signed for, or why it may not."""
    if found.is_open:
        raise GateIsOpen
    if found.enrolment is None or not found.is_gate_met:
        raise GateConditionUnmet(found.missing)
    if seen != found.basis:
        raise EvidenceMovedOn
    if side in found.sides:
        raise AlreadySignedGate
    return found.enrolment


def _open(found: Readiness, last: GateSignature, first: GateSignature, now: datetime) -> None:
    """Every condition is met, and the other side's signature stands on the same evidence."""
    by_side = {each.side: each for each in (first, last)}
    number = found.opening.number + 1 if found.opening else 1
    opening = GateOpening.objects.create(
        student=found.student,
        enrolment=last.enrolment,
        number=number,
        student_signature=by_side[STUDENT],
        educator_signature=by_side[EDUCATOR],
        evidence=last.evidence,
        at=now,
    )
    record(last.signed_by, "open_gate", opening, now=now, after={"number": number, "basis": found.basis})


def _close(
    opening: GateOpening,
    kind: GateClosing.Kind,
    words: str,
    *,
    at: datetime,
    now: datetime,
    by: Membership | None = None,
) -> GateClosing:
    return GateClosing.objects.create(opening=opening, kind=kind, words=words, by=by, at=at, recorded_at=now)


def _fallen(found: Readiness) -> str:
    if found.enrolment is None or (found.opening and found.opening.enrolment_id != found.enrolment.pk):
        return "The programme that the gate was opened on has ended."
    return "No longer met: " + "; ".join(f"{each.name}. {each.words}" for each in found.missing)


def _evidence(found: Readiness) -> Mapping[str, object]:
    """The conditions as they stand, in words, with the rows they rest on."""
    return {
        "basis": found.basis,
        "conditions": [
            {
                "code": each.code,
                "name": each.name,
                "words": each.words,
                "evidence": [[row.kind, row.key, row.words, row.row] for row in each.evidence],
            }
            for each in found.gate
        ],
    }


def _keep_standing(found: Readiness, now: datetime) -> Readiness:
    """``at`` stays while the state does; who was never on a programme has no standing."""
    kept = GateStanding.objects.filter(student=found.student).first()
    if kept is None and found.enrolment is None:
        return found
    kept = kept or GateStanding(student=found.student)
    kept.at = kept.at if kept.state == found.gate_state else now
    kept.state = found.gate_state
    kept.met, kept.asked = found.gate_met, len(found.gate)
    kept.certificate_ready = found.is_certificate_ready
    kept.lapses_at = found.lapses_at
    kept.save()
    return found
