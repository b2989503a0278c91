import json
from dataclasses import replace
from decimal import Decimal

import pytest

from courses.programme.content import (
    CertificateRules,
    Gate,
    Unit,
    read_certificate,
    read_gate,
    read_unit,
    write_rules,
)

GATES = [
    Gate(),
    Gate(theory_hours=Decimal(8), practical_hours=Decimal("2.25"), graded_sets=12, lapse_days=60),
    Gate(theory_units=False, competence=False, mastery=False, blind_mark=False, consent=()),
    Gate(consent=("assessment_record", "grading_photo"), hygiene_sets=1),
]
RULES = [
    CertificateRules(),
    CertificateRules(all_units=False, gate_open_once=False, graded_sets=20, valid_months=None),
    CertificateRules(scope="Classic singles on mannequin heads", min_levels={"isolation": 3}),
]


@pytest.mark.parametrize("gate", GATES)
def test_a_gate_comes_back_from_json_as_it_went_in(gate: Gate):
    assert read_gate(json.loads(json.dumps(write_rules(gate)))) == gate


@pytest.mark.parametrize("rules", RULES)
def test_certificate_rules_come_back_from_json_as_they_went_in(rules: CertificateRules):
    assert read_certificate(json.loads(json.dumps(write_rules(rules)))) == rules


def test_keys_that_are_missing_have_their_default_and_unknown_ones_are_left_alone():
    assert read_gate({}) == Gate()
    assert read_certificate({}) == CertificateRules()
    assert read_gate({"lapse_days": 30, "of_another_day": True}) == replace(Gate(), lapse_days=30)


def test_whole_hours_are_written_whole():
    written = write_rules(Gate(theory_hours=Decimal("8.00"), practical_hours=Decimal("2.50")))
    assert (written["theory_hours"], written["practical_hours"]) == (8, 2.5)
    assert isinstance(written["theory_hours"], int)


def test_by_default_a_gate_closes_after_90_days_and_asks_for_three_sets_of_hygiene_lines():
    """Proposals of the house; common practice, no source."""
    assert (Gate().lapse_days, Gate().hygiene_sets, Gate().consent) == (90, 3, ("assessment_record",))


def test_a_unit_is_read_with_its_code():
    row = {"code": "removal", "title": "Removal", "kind": "practical", "before_live": True}
    assert read_unit(row) == Unit("Removal", "practical", before_live=True, code="removal")
