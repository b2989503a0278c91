"""Reading a rubric's rules, and the bands of each kind at their edges."""

from fractions import Fraction
from math import ceil
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.rules import CountedRule, JudgedRule, RuleError, parse_rule, rule_kinds

GOOD: dict[str, dict[str, Any]] = {
    "counted": {"faults": ["STK", "BBY"], "per": 40, "at_most": [0, 1, 2, 6]},
    "window": {
        "inside_mm": [0.5, 1.0],
        "outer_mm": [0.3, 1.5],
        "share_at_least": [0.90, 0.75, 0.50],
        "outer_share_at_most": 0.20,
        "floor_faults": ["TCH"],
    },
    "deviation": {
        "mean_at_most": [5, 10, 20],
        "cross_deg": 45,
        "cross_share_at_most": 0.20,
        "faults": ["DIR"],
    },
    "covered": {"share_at_least": [0.95, 0.80, 0.60, 0.40]},
    "difference": {"percent_at_most": [5, 9, 19], "unit": "fans"},
    "timed": {"percent_at_most": [100, 125, 150, 200]},
    "lines": {"minor_at_most": [0, 1, 2], "critical": ["eye_cover", "single_use"]},
    "judged": {"caps": {"HVY": 1}},
}


def read(kind, change=()) -> Any:
    return parse_rule(kind, GOOD[kind] | dict(change))


def refusal(kind, data):
    with pytest.raises(RuleError) as caught:
        parse_rule(kind, data)
    return caught.value


def test_every_kind_has_words_and_reads_its_own_data():
    assert set(GOOD) == set(rule_kinds)
    for kind, data in GOOD.items():
        assert type(parse_rule(kind, data)).__name__ == f"{kind.title()}Rule"


def test_a_counted_rule_keeps_what_it_was_given():
    rule = parse_rule("counted", GOOD["counted"] | {"noun": "stuck", "floor_faults": ["TCH"]})
    assert rule == CountedRule(
        frozenset({"STK", "BBY"}), 40, (0, 1, 2, 6), floor_faults=frozenset({"TCH"}), noun="stuck"
    )


def test_a_judged_rule_needs_no_data():
    assert parse_rule("judged", {}) == JudgedRule()


def test_an_unknown_kind_is_refused_with_the_kinds_there_are():
    error = refusal("guessed", {})
    assert (error.code, error.field) == ("unknown_kind", "kind")
    assert "counted" in error.message


REQUIRED = [
    (kind, name)
    for kind, data in GOOD.items()
    for name in data
    if name not in {"floor_faults", "unit", "caps", "critical"} and (kind, name) != ("deviation", "faults")
]


@pytest.mark.parametrize(("kind", "name"), REQUIRED)
def test_a_missing_field_is_named(kind, name):
    error = refusal(kind, {key: value for key, value in GOOD[kind].items() if key != name})
    assert (error.code, error.field) == ("missing_field", name)
    assert error.message == f'{rule_kinds[kind]}: "{name}" is missing. Add it.'


@pytest.mark.parametrize("kind", GOOD)
def test_a_misspelt_field_is_refused_and_named(kind):
    error = refusal(kind, GOOD[kind] | {"at_mots": 3})
    assert (error.code, error.field) == ("unknown_field", "at_mots")


@pytest.mark.parametrize(
    ("kind", "change", "code"),
    [
        ("counted", {"per": "forty"}, "not_a_number"),
        ("counted", {"per": True}, "not_a_number"),
        ("counted", {"per": float("nan")}, "not_a_number"),
        ("counted", {"per": 0}, "out_of_range"),
        ("counted", {"per": 40.5}, "not_a_whole_number"),
        ("counted", {"at_most": [0, 1, 2]}, "wrong_length"),
        ("counted", {"at_most": 6}, "wrong_length"),
        ("counted", {"at_most": [0, 1, None, 6]}, "not_a_number"),
        ("counted", {"at_most": [0, 1, 2.5, 6]}, "not_a_whole_number"),
        ("counted", {"at_most": [0, 2, 1, 6]}, "not_monotone"),
        ("counted", {"at_most": [-1, 1, 2, 6]}, "out_of_range"),
        ("counted", {"at_most": [0, 1, 2, 41]}, "out_of_range"),
        ("counted", {"faults": []}, "no_codes"),
        ("counted", {"faults": "STK"}, "not_a_list_of_codes"),
        ("counted", {"faults": ["STK", 3]}, "not_a_list_of_codes"),
        ("counted", {"noun": ""}, "not_text"),
        ("counted", {"noun": 7}, "not_text"),
        ("window", {"inside_mm": [1.0, 0.5]}, "not_monotone"),
        ("window", {"outer_mm": [0.6, 1.5]}, "not_monotone"),
        ("window", {"share_at_least": [0.5, 0.75, 0.9]}, "not_monotone"),
        ("window", {"share_at_least": [90, 75, 50]}, "out_of_range"),
        ("window", {"outer_share_at_most": 1.2}, "out_of_range"),
        ("deviation", {"mean_at_most": [5, 20, 10]}, "not_monotone"),
        ("deviation", {"cross_deg": 200}, "out_of_range"),
        ("covered", {"share_at_least": [0.4, 0.6, 0.8, 0.95]}, "not_monotone"),
        ("difference", {"percent_at_most": [5, 9, 190]}, "out_of_range"),
        ("difference", {"mm_at_most": [1, 0.5, 2]}, "not_monotone"),
        ("difference", {"mm_at_most": [0.5, 1]}, "wrong_length"),
        ("difference", {"mm_at_most": [0.5, 1, 21]}, "out_of_range"),
        ("timed", {"percent_at_most": [125, 100, 150, 200]}, "not_monotone"),
        ("lines", {"minor_at_most": [0, 2, 1]}, "not_monotone"),
        ("lines", {"critical": {"eye_cover": 1}}, "not_a_list_of_codes"),
        ("judged", {"caps": ["HVY"]}, "not_a_mapping"),
        ("judged", {"caps": {"HVY": 5}}, "out_of_range"),
        ("judged", {"caps": {"HVY": 1.5}}, "not_a_whole_number"),
    ],
)
def test_data_that_cannot_be_read_is_refused_by_field_with_a_sentence(kind, change, code):
    error = refusal(kind, GOOD[kind] | change)
    assert (error.code, error.field) == (code, next(iter(change)))
    assert error.message.startswith(rule_kinds[kind])
    assert error.message.endswith(".")


@settings(max_examples=60)
@given(
    per=st.integers(1, 60),
    inspected=st.integers(1, 200),
    data=st.data(),
)
def test_limits_scale_to_the_nearest_whole_fan_and_down_at_a_half(per, inspected, data):
    at_most = sorted(data.draw(st.lists(st.integers(0, per), min_size=4, max_size=4)))
    rule = read("counted", {"per": per, "at_most": at_most})
    faults = data.draw(st.integers(0, inspected))
    reached = [
        level
        for level, limit in zip((4, 3, 2, 1), at_most, strict=True)
        if faults <= ceil(Fraction(limit * inspected, per) - Fraction(1, 2))
    ]
    assert rule.level(faults, inspected) == max(reached, default=0)


def test_one_in_twenty_reads_as_two_in_forty():
    rule = read("counted")
    assert rule.level(1, 20) == rule.level(2, 40) == 2


def test_a_lash_left_bare_does_not_cost_a_level_on_another_criterion():
    rule = read("counted")
    assert rule.level(1, 39) == rule.level(1, 40) == 3


@settings(max_examples=60)
@given(positions=st.integers(1, 400), data=st.data())
def test_shares_are_compared_without_rounding(positions, data):
    covered = data.draw(st.integers(0, positions))
    bands = [Fraction(95, 100), Fraction(80, 100), Fraction(60, 100), Fraction(40, 100)]
    expected = sum(Fraction(covered, positions) >= band for band in bands)
    assert read("covered").level(covered, positions) == expected


def test_the_ends_of_a_window_are_inside_it():
    rule = read("window")
    assert rule.inside([0.49, 0.5, 0.75, 1.0, 1.01]) == 3
    assert rule.far_outside([0.29, 0.3, 0.75, 1.5, 1.51]) == 2


def test_exactly_the_allowed_share_outside_is_still_allowed():
    rule = read("window")
    assert rule.level(inside=16, far_outside=4, measured=20) == 3
    assert rule.level(inside=15, far_outside=5, measured=20) == 0
