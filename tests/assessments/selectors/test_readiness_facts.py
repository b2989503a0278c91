"""What is gathered for the gate: hours from both sources, hygiene as signed, sets of this programme."""

from datetime import date, timedelta

import pytest

from academy.models import Academy
from assessments.models import GateOpening
from assessments.selectors.readiness_facts import facts_of
from assessments.services.competence import change_mastery
from courses.services.enrolments import end_enrolment, enrol
from courses.services.hours import HoursContent, enter_hours
from tests.factories.academy import Cast
from tests.factories.gate import MASTERY_OF_ONE, READY_AT, make_gate_ready, make_open_gate, make_set
from tests.factories.gate_falls import hygiene_line_missed, marks_corrected
from tests.factories.second_marks import give_second_mark

pytestmark = pytest.mark.django_db
LATER = READY_AT + timedelta(days=3)


def facts(cast: Cast, opening: GateOpening | None = None, *, now=READY_AT):
    enrolment = cast.ada.enrolments.select_related("version__programme").get(ended_at=None)
    return facts_of(cast.ada, enrolment, opening, now=now)


def test_hours_come_from_what_was_entered_and_from_the_clock_of_sets(cast: Cast):
    """One set of 240 min; theory in the room 90, online 20 and a trip of 10 are theory, 45 are practical."""
    enrolment = make_gate_ready(cast)
    for kind, minutes in (("online", 20), ("field_trip", 10), ("practical", 45)):
        content = HoursContent(kind, minutes, on=date(2026, 1, 20))
        enter_hours(enrolment=enrolment, content=content, actor=cast.ines, now=READY_AT)
    hours = facts(cast).hours
    assert (hours.theory, hours.practical, hours.clock) == (120, 45, 240)
    assert (hours.asked_theory, hours.asked_practical) == (2, 5)


def test_hygiene_lines_are_read_from_the_marks_that_count(cast: Cast):
    enrolment = make_gate_ready(cast)
    hygiene_line_missed(cast, enrolment, LATER)
    first, second = facts(cast).sets
    assert (first.lines, first.missed, first.is_clean) == (10, (), True)
    assert (second.is_clean, len(second.missed or ())) == (False, 1)
    assert "entilation" in (second.missed or ("",))[0]


def test_a_correction_names_other_marks(cast: Cast):
    enrolment = make_gate_ready(cast)
    before = facts(cast).sets[0].grade
    marks_corrected(cast, enrolment, LATER)
    assert facts(cast).sets[0].grade != before


def test_sets_of_an_earlier_programme_do_not_count_to_the_hours_of_the_next(cast: Cast):
    enrolment = make_gate_ready(cast)
    end_enrolment(enrolment=enrolment, reason="finished", actor=cast.owner, now=READY_AT)
    enrol(student=cast.ada, version=enrolment.version, actor=cast.owner, now=LATER)
    make_set(cast, at=LATER + timedelta(days=1))
    found = facts(cast)
    assert (found.hours.clock, found.graded, len(found.sets)) == (240, 1, 2)


def test_sets_made_before_the_student_was_put_on_her_first_programme_count(cast: Cast):
    enrolment = make_gate_ready(cast)
    enrolment.enrolled_at = LATER
    enrolment.save()
    assert (facts(cast).hours.clock, facts(cast).graded) == (240, 1)


def test_for_an_open_gate_mastery_is_that_of_its_day(cast: Cast):
    """Later sets, and a stricter rule made later, leave it; a correction of its sets does not."""
    make_open_gate(cast)
    opening = GateOpening.objects.get()
    make_set(cast, at=LATER)
    stricter = {**MASTERY_OF_ONE, "sets": 5}
    change_mastery(
        academy=Academy.objects.get(pk=cast.academy.pk), conditions=stricter, actor=cast.owner, now=LATER
    )
    of_its_day, of_today = facts(cast, opening).mastery, facts(cast).mastery
    assert (len(of_its_day.history), of_its_day.conditions.sets) == (1, 1)
    assert (len(of_today.history), of_today.conditions.sets) == (2, 5)
    marks_corrected(cast, opening.enrolment, LATER)
    assert 2 in facts(cast, opening).mastery.history[0].levels.values()


def test_a_set_that_waits_for_its_second_mark_is_known(cast: Cast):
    make_gate_ready(cast)
    give_second_mark(make_set(cast, at=LATER), cast.second)
    assert facts(cast).mastery.blind_waiting == (2,)


def test_nobody_has_answered_a_consent_until_she_has(cast: Cast):
    make_gate_ready(cast)
    known = facts(cast).consents
    assert known["assessment_record"].given
    assert (known["publicity"].given, known["publicity"].on) == (False, None)
