"""Students for whom every condition of the gate is met after one graded set, through the services."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from academy.models import Membership
from academy.services.consents import answer_consent
from assessments.models import Grade
from assessments.selectors.readiness import Readiness, readiness_of
from assessments.services.competence import change_mastery
from assessments.services.gate import sign_gate, watch_gate
from courses.models import Enrolment, ProgrammeVersion, Skill
from courses.programme.content import CertificateRules, Gate, ProgrammeContent, Unit
from courses.services.enrolments import enrol
from courses.services.hours import HoursContent, enter_hours
from courses.services.programmes import add_programme, change_programme_draft, publish_programme_version
from courses.services.sign_offs import sign_off
from tests.factories.academy import JOINED, Cast
from tests.factories.assessments import STARTED, Bench, make_graded_set
from tests.factories.competence import passes_in_a_row, set_rule
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric
from tests.factories.second_marks import second_result

READY_AT = STARTED + timedelta(days=2)
MASTERY_OF_ONE = {
    "sets": 1,
    "days": 1,
    "level": 3,
    "faults_allowed": 0,
    "inspected": 40,
    "blind_marks": 1,
}
# Every kind of condition, each as small as it can be: one set of 4 hours on the clock meets it.
EVERY_CONDITION = Gate(
    theory_hours=Decimal("1.5"), practical_hours=Decimal(4), hygiene_sets=1, graded_sets=1, lapse_days=90
)
CERTIFICATE = CertificateRules(
    graded_sets=1, scope="Volume sets on mannequin heads.", min_levels={"isolation": 2}
)


def gate_programme(
    owner: Membership, *, gate: Gate = EVERY_CONDITION, name: str = "Gate course"
) -> ProgrammeVersion:
    draft = add_programme(academy=owner.academy, name=name, actor=owner, now=JOINED)
    content = ProgrammeContent(
        units=(
            Unit("Hygiene and disinfection", "theory", before_live=True),
            Unit("Infill", "practical"),
        ),
        theory_hours=Decimal(2),
        practical_hours=Decimal(5),
        hours_source="Invented for a test",
        hours_source_on=date(2026, 1, 5),
        gate=gate,
        certificate=CERTIFICATE,
    )
    draft = change_programme_draft(version=draft, content=content, actor=owner, now=JOINED)
    return publish_programme_version(version=draft, actor=owner, now=JOINED)


def decide_after_one_set(owner: Membership) -> None:
    """Every gate skill is declared by one pass, and mastery looks at one set."""
    for skill in Skill.objects.filter(is_gate=True):
        set_rule(owner, passes_in_a_row(1), skill=skill.code)
    change_mastery(
        academy=owner.academy, conditions=MASTERY_OF_ONE, actor=owner, now=STARTED - timedelta(days=1)
    )


def make_set(
    cast: Cast, student: Membership | None = None, *, at: datetime = STARTED, name: str = ""
) -> Grade:
    """One clean graded set by Ines."""
    label = name or f"Gate {at:%d %H}"
    brief, head = make_brief(cast.academy, cast.owner, name=label), make_head(cast.academy, label)
    return make_graded_set(Bench(student or cast.ada, cast.ines, brief, head), at=at)


def make_gate_ready(
    cast: Cast, student: Membership | None = None, *, gate: Gate = EVERY_CONDITION
) -> Enrolment:
    """Ada, or ``student``: every condition is met at READY_AT and nobody has signed."""
    who = student or cast.ada
    starter_rubric(cast.academy, cast.owner)
    decide_after_one_set(cast.owner)
    enrolment = enrol(
        student=who, version=gate_programme(cast.owner, gate=gate), actor=cast.owner, now=JOINED
    )
    pass_unit(enrolment, cast.ines)
    enter_hours(
        enrolment=enrolment,
        content=HoursContent("theory", 90, on=date(2026, 1, 13)),
        actor=cast.ines,
        now=JOINED + timedelta(days=2),
    )
    consent(who)
    second_result(make_set(cast, who), cast.second)
    watch_gate(student=who, now=READY_AT)  # as a task does after the transaction
    return enrolment


def consent(student: Membership, *, given: bool = True, at: datetime = JOINED) -> None:
    answer_consent(member=student, purpose="assessment_record", given=given, actor=student, now=at)


def pass_unit(
    enrolment: Enrolment, by: Membership, *, passed: bool = True, at: datetime = JOINED + timedelta(days=1)
) -> None:
    """The unit before a live model."""
    units = list(enrolment.version.units.filter(before_live=True))
    note = "" if passed else "Cover the tweezers."
    sign_off(enrolment=enrolment, units=units, passed=passed, note=note, actor=by, now=at)


def signed_by(student: Membership, actor: Membership, *, at: datetime = READY_AT) -> Readiness:
    """Signed on what she sees at ``at``."""
    return sign_gate(student=student, actor=actor, seen=readiness_of(student, now=at).basis, now=at)


def make_open_gate(cast: Cast, *, at: datetime = READY_AT, gate: Gate = EVERY_CONDITION) -> Readiness:
    """Ada's gate, opened by Ada and Ines."""
    make_gate_ready(cast, gate=gate)
    signed_by(cast.ada, cast.ada, at=at)
    return signed_by(cast.ada, cast.ines, at=at)


def easier(**changes: Any) -> Gate:
    return replace(EVERY_CONDITION, **changes)
