"""Rules read from programme data: presets, defaults, and a clear sentence for each way to go wrong."""

import json

import pytest

from assessments.scoring.characteristics import risks
from assessments.scoring.competence_rules import CompetenceInputError, FanSequential, LearningCusum
from assessments.scoring.mastery import MasteryConditions
from assessments.scoring.programme_rules import (
    PRESETS,
    THREE_IN_A_ROW,
    parse_mastery,
    parse_programme,
    parse_rule,
    parse_watch,
    rule_kinds,
)

CUSUM = {
    "kind": "learning_cusum",
    "acceptable_rate": 0.1,
    "inadequate_rate": 0.3,
    "threshold": 3.77,
    "horizon": 40,
}
WATCH = {"acceptable_rate": 0.1, "inadequate_rate": 0.3, "threshold": 3.0, "horizon": 40}


@pytest.mark.parametrize("preset", PRESETS)
def test_every_preset_survives_storage_and_can_decide_within_its_horizon(preset):
    stored = json.loads(json.dumps(PRESETS[preset]))
    programme = parse_programme(stored)
    assert programme == parse_programme(PRESETS[preset])
    assert programme.name == PRESETS[preset]["name"]
    assert (risks(programme.rule).earliest or 999) <= programme.rule.horizon
    assert programme.watch is not None


def test_every_kind_has_a_preset_to_start_from():
    assert {preset["rule"]["kind"] for preset in PRESETS.values()} == set(rule_kinds)


def test_three_in_a_row_is_shown_but_is_no_preset():
    assert THREE_IN_A_ROW not in [preset["rule"] for preset in PRESETS.values()]


def test_a_risk_in_place_of_a_threshold_finds_the_threshold():
    # CALC: p0 = .10, p1 = .30, 40 sets, 5 % -> 3.77.
    asked = {name: value for name, value in CUSUM.items() if name != "threshold"} | {"risk": 0.05}
    assert (
        parse_rule(asked)
        == parse_rule(CUSUM)
        == LearningCusum(acceptable_rate=0.1, inadequate_rate=0.3, threshold=3.77, horizon=40)
    )


def test_fan_counts_have_defaults_for_likeness_and_fans():
    rule = parse_rule(
        {
            "kind": "fans",
            "acceptable_rate": 0.02,
            "inadequate_rate": 0.1,
            "refuse_risk": 0.1,
            "declare_risk": 0.05,
            "horizon": 20,
        }
    )
    assert isinstance(rule, FanSequential)
    assert (rule.rho, rule.inspected) == (0.05, 40)


def test_whole_numbers_written_as_decimals_are_read():
    assert parse_rule({**CUSUM, "horizon": 40.0}) == parse_rule(CUSUM)


def test_mastery_keeps_the_defaults_of_what_is_left_out():
    assert parse_mastery({}) == MasteryConditions()
    assert parse_mastery({"sets": 4}).sets == 4


@pytest.mark.parametrize(
    ("data", "code", "field"),
    [
        ({"kind": "luck"}, "unknown_kind", "kind"),
        ({}, "unknown_kind", "kind"),
        ({**CUSUM, "treshold": 3}, "unknown_field", "treshold"),
        ({"kind": "run", "length": 3}, "missing_field", "acceptable_rate"),
        ({**CUSUM, "horizon": "forty"}, "not_a_number", "horizon"),
        ({**CUSUM, "horizon": 40.5}, "not_a_whole_number", "horizon"),
        ({**CUSUM, "threshold": True}, "not_a_number", "threshold"),
        ({**CUSUM, "threshold": float("inf")}, "not_a_number", "threshold"),
        ({**CUSUM, "inadequate_rate": 0.05}, "rates_out_of_order", "acceptable_rate"),
        ({**CUSUM, "horizon": 15}, "never_decides", "horizon"),
        ({**CUSUM, "risk": 0.05}, "risk_and_threshold", "risk"),
        (
            {
                "kind": "learning_cusum",
                "acceptable_rate": 0.1,
                "inadequate_rate": 0.3,
                "horizon": 9,
                "risk": 0,
            },
            "risk_out_of_range",
            "risk",
        ),
    ],
)
def test_a_rule_that_cannot_be_read_says_where_and_what_to_do(data, code, field):
    with pytest.raises(CompetenceInputError) as refused:
        parse_rule(data)
    assert (refused.value.code, refused.value.field) == (code, field)
    assert refused.value.message.endswith(".")


@pytest.mark.parametrize(
    ("data", "code"),
    [({}, "no_rule"), ({"rule": "three in a row"}, "no_rule"), ({"rule": CUSUM, "watch": 3}, "bad_watch")],
)
def test_a_programme_that_cannot_be_read_says_so(data, code):
    with pytest.raises(CompetenceInputError) as refused:
        parse_programme(data)
    assert refused.value.code == code


def test_a_programme_may_leave_the_watch_out():
    assert parse_programme({"rule": CUSUM}).watch is None
    assert parse_programme({"rule": CUSUM, "watch": WATCH}).watch == parse_watch(WATCH)
