from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from courses.programme.content import CertificateRules, Gate, ProgrammeContent, Unit
from courses.programme.problems import draft_problems, publish_problems

TODAY = date(2026, 3, 2)
# Minn. R. 2110.0580, text of December 2024: 8 theory and 6 clinical hours, all theory before the clinic.
COMPLETE = ProgrammeContent(
    units=(Unit("Hygiene", "theory", before_live=True, code="hygiene"), Unit("Removal", "practical")),
    theory_hours=Decimal(8),
    practical_hours=Decimal(6),
    hours_source="The board's rule",
    hours_source_on=TODAY,
    gate=Gate(theory_hours=Decimal(8)),
    certificate=CertificateRules(scope="Singles on mannequin heads"),
)


def at_fault(content: ProgrammeContent):
    return [problem.field for problem in publish_problems(content, today=TODAY)]


def test_a_complete_programme_has_no_problem():
    assert at_fault(COMPLETE) == []


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"theory_hours": None}, "theory_hours"),
        ({"practical_hours": None}, "practical_hours"),
        ({"hours_source": "  "}, "hours_source"),
        ({"hours_source_on": None}, "hours_source_on"),
        ({"hours_source_on": date(2026, 3, 3)}, "hours_source_on"),
        ({"units": ()}, "units"),
        ({"units": (Unit("Removal", "practical"),)}, "theory_units"),
        ({"gate": Gate(theory_hours=Decimal("8.25"))}, "gate_theory_hours"),
        ({"gate": Gate(practical_hours=Decimal(7))}, "gate_practical_hours"),
        ({"certificate": CertificateRules(scope=" ")}, "scope"),
        ({"units": (*COMPLETE.units, Unit("hygiene", "practical"))}, "units"),
    ],
)
def test_each_thing_that_is_wrong_is_told_once_at_its_field(changes, field):
    assert at_fault(replace(COMPLETE, **changes)) == [field]


def test_a_programme_may_ask_for_no_hours():
    none = replace(COMPLETE, theory_hours=Decimal(0), practical_hours=Decimal(0), gate=Gate())
    assert at_fault(none) == []


def test_the_gate_may_ask_for_as_many_hours_as_the_programme_but_no_more():
    whole = replace(COMPLETE, gate=Gate(theory_hours=Decimal(8), practical_hours=Decimal(6)))
    assert at_fault(whole) == []


def test_a_draft_may_be_incomplete_but_not_hold_one_title_twice_or_a_day_to_come():
    draft = ProgrammeContent(units=())
    assert draft_problems(draft, today=TODAY) == ()
    twice = (Unit("Removal", "practical"), Unit("REMOVAL", "theory"), Unit("Infill", "practical"))
    wrong = replace(draft, units=twice, hours_source_on=date(2027, 1, 1))
    assert [problem.field for problem in draft_problems(wrong, today=TODAY)] == ["units", "hours_source_on"]


def test_every_sentence_says_what_to_do():
    problems = publish_problems(ProgrammeContent(units=()), today=TODAY)
    assert len(problems) == 6
    asks = ("Enter", "Say", "Add")
    assert [each.message for each in problems if not any(word in each.message for word in asks)] == []
