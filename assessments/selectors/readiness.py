from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from academy.errors import DomainError
from academy.models import Academy, Membership
from assessments.models import GateClosing, GateOpening, GateSignature, GateStanding, PracticeSet
from assessments.scoring.gate_rules import (
    CertificateRules,
    GateRuleError,
    GateRules,
    parse_certificate_rules,
    parse_gate,
)
from assessments.scoring.gate_state import (
    OPEN,
    SHUT,
    Opened,
    Signed,
    gate_state,
    lapsed_at,
    lapses_at,
    standing_signatures,
)
from assessments.scoring.readiness import basis_of, is_met, judge_certificate, judge_gate
from assessments.scoring.readiness_facts import Condition
from assessments.selectors.readiness_facts import facts_of
from courses.models import Enrolment, ProgrammeVersion
from courses.selectors.enrolments import open_enrolment

WAITING = (
    GateStanding.State.REACHED,
    GateStanding.State.WAITING_FOR_STUDENT,
    GateStanding.State.WAITING_FOR_EDUCATOR,
)


class RulesUnreadable(DomainError):
    def __init__(self, version: ProgrammeVersion, error: GateRuleError) -> None:
        super().__init__(
            "rules_unreadable",
            f"The rules of {version} cannot be read. {error.message} The owner corrects this in a draft "
            "and publishes that.",
        )


@dataclass(frozen=True, slots=True)
class GateRecord:
    """Rows of one student's gate: the newest opening with its closing, and the signatures made since."""

    opening: GateOpening | None
    closing: GateClosing | None
    signatures: tuple[GateSignature, ...]


@dataclass(frozen=True, slots=True)
class Readiness:
    """Every condition of the gate and of the certificate as it stands now; without a programme none.

    ``gate_state`` is what the gate is at this instant, whether or not a lapse has been written down: shut,
    reached, waiting_for_student, waiting_for_educator, open, lapsed. ``sides``: whose signature stands.
    ``ended``: why an opening is over, and ``ended_at`` when, also where no closing is recorded yet.
    """

    student: Membership
    enrolment: Enrolment | None
    gate: tuple[Condition, ...] = ()
    certificate: tuple[Condition, ...] = ()
    gate_state: str = SHUT
    record: GateRecord = GateRecord(None, None, ())
    basis: str = ""
    sides: frozenset[str] = frozenset()
    ended: str = ""
    ended_at: datetime | None = None
    lapses_at: datetime | None = None
    lapse_days: int = 0

    @property
    def opening(self) -> GateOpening | None:
        return self.record.opening

    @property
    def missing(self) -> tuple[Condition, ...]:
        return tuple(each for each in self.gate if not each.met)

    @property
    def certificate_missing(self) -> tuple[Condition, ...]:
        return tuple(each for each in self.certificate if not each.met)

    @property
    def gate_met(self) -> int:
        return len(self.gate) - len(self.missing)

    @property
    def is_gate_met(self) -> bool:
        return is_met(self.gate)

    @property
    def is_certificate_ready(self) -> bool:
        return is_met(self.certificate)

    @property
    def is_open(self) -> bool:
        return self.gate_state == OPEN

    @property
    def standing(self) -> tuple[GateSignature, ...]:
        """The signatures that count now, one a side."""
        newest = {each.side: each for each in self.record.signatures}
        return tuple(each for side, each in newest.items() if side in self.sides)


def readiness_of(student: Membership, *, now: datetime) -> Readiness:
    """Where the student stands before the gate and the certificate; 25 queries for any number of sets."""
    enrolment = open_enrolment(student)
    if enrolment is None:
        return _without_programme(student)
    rules, certificate_rules = _rules(enrolment.version)
    record, graded = _record(student, enrolment), _graded_at(student)
    ended, ended_at = _ended(record, enrolment, graded, rules, now)
    held = record.opening if not ended else None
    facts = facts_of(student, enrolment, held, now=now)
    gate = judge_gate(facts, rules)
    basis = basis_of(gate, enrolment.version_id)
    sides = standing_signatures(
        [Signed(each.side, each.at, _basis(each)) for each in record.signatures], basis
    )
    opened = Opened(record.opening.at, ended) if record.opening else None
    state = gate_state(met=is_met(gate), sides=sides, opened=opened)
    return Readiness(
        student,
        enrolment,
        gate,
        judge_certificate(facts, certificate_rules),
        state,
        record,
        basis,
        sides,
        ended,
        ended_at,
        lapses_at(graded, rules.lapse_days) if state == OPEN else None,
        rules.lapse_days,
    )


def certificate_ready(student: Membership, *, now: datetime) -> bool:
    """Whether every condition of a certificate is met at this instant; as many queries as the readiness."""
    return readiness_of(student, now=now).is_certificate_ready


def gates_waiting(academy: Academy) -> list[GateStanding]:
    """Students whose gate waits for nothing but signatures, longest first; one query."""
    rows = GateStanding.objects.filter(
        student__academy=academy, student__left_at=None, state__in=WAITING
    ).select_related("student__user")
    return list(rows.order_by("at", "pk"))


def gate_history(student: Membership) -> list[GateOpening]:
    """Every opening, newest first, with who signed and how it ended; one query."""
    return list(
        GateOpening.objects.filter(student=student).select_related(
            "student_signature", "educator_signature__signed_by__user", "closing__by__user"
        )
    )


def _without_programme(student: Membership) -> Readiness:
    """An opening of an earlier programme is over with it; one query."""
    record = _record(student, None)
    ended = record.closing.kind if record.closing else GateClosing.Kind.CONDITIONS.value
    return Readiness(student, None, record=record, ended=ended if record.opening else "")


def _rules(version: ProgrammeVersion) -> tuple[GateRules, CertificateRules]:
    try:
        return parse_gate(version.gate), parse_certificate_rules(version.certificate)
    except GateRuleError as error:
        raise RulesUnreadable(version, error) from error


def _record(student: Membership, enrolment: Enrolment | None) -> GateRecord:
    """Two queries, one without a programme."""
    opening = GateOpening.objects.filter(student=student).select_related("closing").first()
    closing = getattr(opening, "closing", None)
    if enrolment is None:
        return GateRecord(opening, closing, ())
    used = max(opening.student_signature_id, opening.educator_signature_id) if opening else 0
    signed = GateSignature.objects.filter(student=student, enrolment=enrolment, pk__gt=used)
    return GateRecord(opening, closing, tuple(signed.select_related("signed_by__user").order_by("id")))


def _graded_at(student: Membership) -> list[datetime]:
    rows = PracticeSet.objects.filter(student=student, graded_at__isnull=False).order_by("graded_at")
    return [at for at in rows.values_list("graded_at", flat=True) if at]


def _ended(
    record: GateRecord, enrolment: Enrolment, graded: list[datetime], rules: GateRules, now: datetime
) -> tuple[str, datetime | None]:
    """Why and when the newest opening ended, also where nobody has written it down."""
    opening, closing = record.opening, record.closing
    if opening is None:
        return "", None
    if closing is not None:
        return closing.kind, closing.at
    if opening.enrolment_id != enrolment.pk:
        return GateClosing.Kind.CONDITIONS.value, enrolment.enrolled_at
    lapsed = lapsed_at(opening.at, graded, rules.lapse_days, now=now)
    return (GateClosing.Kind.LAPSE.value, lapsed) if lapsed else ("", None)


def _basis(signature: GateSignature) -> str:
    evidence: Mapping[str, object] = signature.evidence
    return str(evidence.get("basis", ""))
