"""The rules of a programme are read whole or refused with a sentence that says what to correct."""

from dataclasses import fields

import pytest

from assessments.scoring.gate_rules import (
    CertificateRules,
    GateRuleError,
    GateRules,
    parse_certificate_rules,
    parse_gate,
)

# Everything an owner can set; the numbers are invented.
WRITTEN = {
    "theory_units": False,
    "theory_hours": "8.5",
    "practical_hours": 6,
    "hygiene_sets": 4,
    "graded_sets": 12,
    "competence": True,
    "mastery": False,
    "blind_mark": False,
    "consent": ["assessment_record", "teaching_use", "assessment_record"],
    "lapse_days": 180,
}


def test_an_empty_rule_asks_for_what_is_usual():
    assert parse_gate({}) == GateRules()
    assert parse_certificate_rules({}) == CertificateRules()


def test_a_gate_left_alone_lapses_after_90_days_and_asks_for_three_clean_set_ups():
    """Programme defaults of the house, proposals and no standard: re-gate after 90 days, the last 3 sets."""
    usual = GateRules()
    assert (usual.lapse_days, usual.hygiene_sets, usual.consent) == (90, 3, ("assessment_record",))
    assert all((usual.theory_units, usual.competence, usual.mastery, usual.blind_mark))


def test_every_rule_is_read():
    assert set(WRITTEN) == {each.name for each in fields(GateRules)}
    assert parse_gate(WRITTEN) == GateRules(
        theory_units=False,
        theory_hours=8.5,
        practical_hours=6.0,
        hygiene_sets=4,
        graded_sets=12,
        competence=True,
        mastery=False,
        blind_mark=False,
        consent=("assessment_record", "teaching_use"),
        lapse_days=180,
    )


def test_every_certificate_rule_is_read():
    written = {
        "all_units": False,
        "gate_open_once": False,
        "graded_sets": 10,
        "valid_months": None,
        "scope": " Classic sets on mannequin heads. ",
        "min_levels": {"isolation": 3, "placement": 2.5},
    }
    assert set(written) == {each.name for each in fields(CertificateRules)}
    read = parse_certificate_rules(written)
    assert (read.valid_months, read.scope) == (None, "Classic sets on mannequin heads.")
    assert read.min_levels == {"isolation": 3.0, "placement": 2.5}


@pytest.mark.parametrize(
    ("written", "field", "said"),
    [
        ({"patience": 3}, "patience", "not known here"),
        ({"mastery": "yes"}, "mastery", "true or false"),
        ({"theory_hours": "many"}, "theory_hours", "must be a number"),
        ({"theory_hours": True}, "theory_hours", "must be a number"),
        ({"theory_hours": float("nan")}, "theory_hours", "must be a number"),
        ({"practical_hours": -1}, "practical_hours", "Give 0 to"),
        ({"hygiene_sets": 2.5}, "hygiene_sets", "whole number"),
        ({"hygiene_sets": None}, "hygiene_sets", "must be a number"),
        ({"lapse_days": 0}, "lapse_days", "Give 1 to"),
        ({"graded_sets": 100_000}, "graded_sets", "Give 0 to"),
        ({"consent": "assessment_record"}, "consent", "list of consents"),
        ({"consent": [""]}, "consent", "list of consents"),
    ],
)
def test_what_cannot_be_is_refused_with_its_name(written, field, said):
    with pytest.raises(GateRuleError, match=said) as refused:
        parse_gate(written)
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("written", "field"),
    [
        ({"valid_months": 0}, "valid_months"),
        ({"scope": 3}, "scope"),
        ({"min_levels": ["isolation"]}, "min_levels"),
        ({"min_levels": {"isolation": 5}}, "min_levels"),
        ({"all_units": 1}, "all_units"),
    ],
)
def test_what_cannot_be_in_a_certificate_is_refused_with_its_name(written, field):
    with pytest.raises(GateRuleError) as refused:
        parse_certificate_rules(written)
    assert refused.value.field == field


def test_no_levels_ask_for_nothing():
    assert parse_certificate_rules({"min_levels": None}).min_levels is None
