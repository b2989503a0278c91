from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from courses.programme.content import CertificateRules, Gate, ProgrammeContent, Unit
from courses.programme.sheet import (
    NOT_ASKED,
    NOT_SET,
    Names,
    all_lines,
    certificate_lines,
    gate_lines,
    hours_lines,
    hours_words,
    unit_words,
)

NAMES = Names(purposes={"assessment_record": "assessment record"}, skills={"isolation": "Isolation"})


def words(lines):
    return {line.key: line.words for line in lines}


@pytest.mark.parametrize(
    ("hours", "told"), [("0", "0 h"), ("8", "8 h"), ("8.00", "8 h"), ("8.50", "8.5 h"), ("320", "320 h")]
)
def test_hours_are_told_without_needless_noughts(hours, told):
    assert hours_words(Decimal(hours)) == told


def test_hours_say_where_they_come_from_and_when_that_was_checked():
    content = ProgrammeContent(
        units=(),
        theory_hours=Decimal(8),
        practical_hours=Decimal(6),
        hours_source="The board's own page",
        hours_source_on=date(2026, 3, 2),
    )
    assert words(hours_lines(content)) == {
        "theory_hours": "8 h",
        "practical_hours": "6 h",
        "hours_source": "The board's own page, last checked on 2 March 2026",
    }


def test_hours_not_entered_are_not_told_as_none():
    assert set(words(hours_lines(ProgrammeContent(units=()))).values()) == {NOT_SET}


def test_what_the_gate_does_not_ask_is_said_so():
    off = Gate(theory_units=False, competence=False, mastery=False, blind_mark=False, consent=())
    told = words(gate_lines(off, NAMES))
    asked = {key for key, said in told.items() if said != NOT_ASKED}
    assert asked == {"hygiene_sets", "lapse_days"}


def test_the_gate_is_told_with_its_numbers_and_names():
    gate = Gate(theory_hours=Decimal(8), graded_sets=12, hygiene_sets=1, lapse_days=60)
    told = words(gate_lines(gate, NAMES))
    assert told["gate_theory_hours"] == "8 h"
    assert told["gate_graded_sets"] == "at least 12"
    assert told["hygiene_sets"] == "all signed in the last 1 set"
    assert told["lapse_days"] == "after 60 days without a graded set"
    assert told["consent"] == "assessment record"


def test_a_code_without_a_name_is_shown_itself():
    assert words(gate_lines(Gate(consent=("of_another_day",)), Names()))["consent"] == "of_another_day"


def test_the_certificate_is_told_with_its_end_and_its_levels():
    rules = CertificateRules(scope="Singles", min_levels={"isolation": 3}, valid_months=12)
    told = words(certificate_lines(rules, NAMES))
    assert (told["valid_months"], told["min_levels"]) == ("for 12 months", "Isolation 3")
    endless = words(certificate_lines(replace(rules, valid_months=None, min_levels={}), NAMES))
    assert (endless["valid_months"], endless["min_levels"]) == ("without an end", NOT_ASKED)


def test_every_line_has_a_key_and_a_label_of_its_own():
    lines = all_lines(ProgrammeContent(units=()), NAMES)
    assert len({line.key for line in lines}) == len({line.label for line in lines}) == len(lines)


def test_a_unit_says_its_kind_and_whether_it_comes_before_live_models():
    unit = Unit("Removal", "practical", before_live=True)
    assert unit_words(unit) == "Removal (practical, before live models)"
    assert unit_words(replace(unit, before_live=False)) == "Removal (practical)"
