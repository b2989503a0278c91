"""Where a student stands before the gate and the certificate, read from the rows as they are."""

from datetime import timedelta

import pytest

from academy.models import Role
from assessments.models import GateOpening, GateSignature, GateStanding
from assessments.selectors.readiness import (
    RulesUnreadable,
    certificate_ready,
    gate_history,
    gates_waiting,
    readiness_of,
)
from assessments.services.gate import close_gate
from courses.models import ProgrammeVersion
from courses.services.hours import HoursContent, enter_hours
from courses.services.sign_offs import sign_off
from tests.factories.academy import JOINED, Cast, make_member
from tests.factories.gate import READY_AT, consent, make_gate_ready, make_open_gate, make_set, signed_by

pytestmark = pytest.mark.django_db
MET = {
    *("units", "theory_hours", "practical_hours", "graded_sets", "hygiene", "competence"),
    *("mastery", "blind_mark", "consent_assessment_record", "recent"),
}


def test_every_kind_of_condition_is_read(cast: Cast):
    make_gate_ready(cast)
    found = readiness_of(cast.ada, now=READY_AT)
    assert {each.code for each in found.gate if each.met} == MET
    assert (found.gate_state, found.gate_met, found.missing) == ("reached", 10, ())
    assert all(each.evidence for each in found.gate)


def test_a_student_on_no_programme_has_nothing_to_meet(cast: Cast):
    found = readiness_of(cast.bea, now=READY_AT)
    assert (found.enrolment, found.gate, found.certificate, found.gate_state) == (None, (), (), "shut")
    assert not (found.is_gate_met or found.is_certificate_ready)


def test_rules_that_cannot_be_read_are_said_to_be_so(cast: Cast):
    enrolment = make_gate_ready(cast)
    version = ProgrammeVersion.objects.filter(pk=enrolment.version_id)
    super(type(version), version).update(gate={"patience": 3})
    with pytest.raises(RulesUnreadable, match="patience"):
        readiness_of(cast.ada, now=READY_AT)


def test_rows_written_past_every_service_read_as_shut_while_a_condition_is_unmet(cast: Cast):
    """Whatever got into the tables: what is shown is judged when it is read."""
    enrolment = make_gate_ready(cast)
    common = {"student": cast.ada, "enrolment": enrolment, "evidence": {}, "at": READY_AT}
    hers = GateSignature.objects.create(side="student", signed_by=cast.ada, **common)
    theirs = GateSignature.objects.create(side="educator", signed_by=cast.ines, **common)
    GateOpening.objects.create(number=1, student_signature=hers, educator_signature=theirs, **common)
    assert readiness_of(cast.ada, now=READY_AT).is_open
    consent(cast.ada, given=False, at=READY_AT)
    assert readiness_of(cast.ada, now=READY_AT).gate_state == "shut"


def test_it_asks_as_often_with_many_sets_as_with_one(cast: Cast, django_assert_max_num_queries):
    make_gate_ready(cast)
    with django_assert_max_num_queries(25) as with_one:
        readiness_of(cast.ada, now=READY_AT)
    for nth in range(1, 4):
        make_set(cast, at=READY_AT + timedelta(days=nth))
    with django_assert_max_num_queries(25) as with_four:
        readiness_of(cast.ada, now=READY_AT + timedelta(days=5))
    assert len(with_four) == len(with_one)


class TestCertificate:
    def complete(self, cast: Cast) -> None:
        """An hour of practice and the last unit more than the gate asks for."""
        opened = make_open_gate(cast)
        assert opened.enrolment
        for content in (
            HoursContent("practical", 60, on=READY_AT.date()),
            HoursContent("theory", 30, READY_AT.date()),
        ):
            enter_hours(enrolment=opened.enrolment, content=content, actor=cast.ines, now=READY_AT)
        units = list(opened.enrolment.version.units.all())
        sign_off(enrolment=opened.enrolment, units=units, passed=True, actor=cast.ines, now=READY_AT)

    def test_it_is_ready_when_everything_is_met(self, cast: Cast):
        self.complete(cast)
        assert readiness_of(cast.ada, now=READY_AT).certificate_missing == ()
        assert certificate_ready(cast.ada, now=READY_AT)

    def test_the_gate_alone_is_not_enough(self, cast: Cast):
        make_open_gate(cast)
        missing = [each.code for each in readiness_of(cast.ada, now=READY_AT).certificate_missing]
        assert missing == ["all_units", "theory_hours", "practical_hours"]
        assert not certificate_ready(cast.ada, now=READY_AT)

    def test_a_gate_that_has_closed_since_was_open_once(self, cast: Cast):
        self.complete(cast)
        close_gate(student=cast.ada, actor=cast.ines, reason="End of the course.", now=READY_AT)
        assert certificate_ready(cast.ada, now=READY_AT)


class TestLists:
    def test_gates_that_wait_for_signatures_are_listed_until_they_open(self, cast: Cast):
        make_gate_ready(cast)
        (waiting,) = gates_waiting(cast.academy)
        assert (waiting.student, waiting.state) == (cast.ada, "reached")
        signed_by(cast.ada, cast.ada)
        assert [each.state for each in gates_waiting(cast.academy)] == ["waiting_for_educator"]
        signed_by(cast.ada, cast.ines)
        assert gates_waiting(cast.academy) == []

    def test_neighbours_and_people_who_left_are_not_listed(self, cast: Cast):
        left = make_member(cast.academy, "Lea Voss", Role.STUDENT)
        left.left_at = READY_AT
        left.save()
        for student in (cast.omar_student, left):
            GateStanding.objects.create(student=student, state="reached", met=1, asked=1, at=JOINED)
        assert gates_waiting(cast.academy) == []

    def test_the_history_tells_every_opening_and_how_it_ended(self, cast: Cast, django_assert_num_queries):
        make_open_gate(cast)
        close_gate(student=cast.ada, actor=cast.ines, reason="Eye pain reported.", now=READY_AT)
        for actor in (cast.ada, cast.owner):
            signed_by(cast.ada, actor, at=READY_AT + timedelta(days=1))
        with django_assert_num_queries(1):
            told = [
                (each.number, each.educator_signature.signed_by.name, getattr(each, "closing", None))
                for each in gate_history(cast.ada)
            ]
        assert [(number, name, closing and closing.words) for number, name, closing in told] == [
            (2, "Wren Adair", None),
            (1, "Ines Carvalho", "Eye pain reported."),
        ]
