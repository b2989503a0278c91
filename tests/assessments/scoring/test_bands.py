"""What a rule's bands say, and that they say what the rule does."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.bands import NEVER, band_words
from assessments.scoring.rules import CountedRule, parse_rule

STEPS = st.lists(st.integers(0, 40), min_size=4, max_size=4).map(sorted)


@pytest.mark.parametrize(
    ("kind", "data", "words"),
    [
        (
            "counted",
            {"faults": ["STK"], "per": 40, "at_most": [0, 1, 2, 6], "noun": "stuck"},
            (
                "7 or more of 40 stuck",
                "3 to 6 of 40 stuck",
                "2 of 40 stuck",
                "1 of 40 stuck",
                "none of 40 stuck",
            ),
        ),
        (
            "window",
            {
                "inside_mm": [0.5, 1.0],
                "outer_mm": [0.3, 1.5],
                "share_at_least": [0.9, 0.75, 0.5],
                "outer_share_at_most": 0.2,
                "floor_faults": ["TCH"],
            },
            (
                "over 20 % outside 0.3 to 1.5 mm, or any TCH",
                "under 50 % inside 0.5 to 1 mm",
                "50 % or more inside 0.5 to 1 mm",
                "75 % or more inside 0.5 to 1 mm",
                "90 % or more inside 0.5 to 1 mm",
            ),
        ),
        (
            "deviation",
            {"mean_at_most": [5, 10, 20], "cross_deg": 45, "cross_share_at_most": 0.2, "faults": ["DIR"]},
            (
                "over 20 % crossing (DIR or 45° and more off)",
                "mean over 20°",
                "mean over 10° to 20°",
                "mean over 5° to 10°",
                "mean 5° or less, none crossing",
            ),
        ),
        (
            "covered",
            {"share_at_least": [0.95, 0.8, 0.6, 0.4]},
            (
                "under 40 % covered",
                "40 % or more covered",
                "60 % or more covered",
                "80 % or more covered",
                "95 % or more covered",
            ),
        ),
        (
            "difference",
            {"percent_at_most": [5, 9, 19]},
            ("", "over 19 % apart", "over 9 to 19 % apart", "over 5 to 9 % apart", "up to 5 % apart"),
        ),
        (
            "timed",
            {"percent_at_most": [100, 125, 150, 200]},
            (
                "over 200 % of the target",
                "over 150 to 200 % of the target",
                "over 125 to 150 % of the target",
                "over 100 to 125 % of the target",
                "up to 100 % of the target",
            ),
        ),
        (
            "lines",
            {"minor_at_most": [0, 1, 2], "critical": ["eye-cover"]},
            (
                "a critical line missed",
                "3 or more others missed",
                "2 other missed",
                "1 other missed",
                "every line met",
            ),
        ),
        (
            "judged",
            {"caps": {"HVY": 1, "CRL": 2}},
            ("", "at most this with HVY", "at most this with CRL", "", ""),
        ),
    ],
)
def test_bands_read_from_level_0_to_level_4(kind, data, words):
    assert band_words(parse_rule(kind, data)) == words


def test_a_level_that_no_count_reaches_says_so():
    rule = CountedRule(frozenset({"MAP"}), 40, (1, 4, 4, 40), noun="off the map")
    assert band_words(rule) == (
        NEVER,
        "5 to 40 of 40 off the map",
        NEVER,
        "2 to 4 of 40 off the map",
        "0 to 1 of 40 off the map",
    )


@settings(max_examples=80)
@given(at_most=STEPS, faults=st.integers(0, 40))
def test_the_band_of_the_level_reached_holds_the_count(at_most, faults):
    rule = CountedRule(frozenset({"STK"}), 40, tuple(at_most), noun="stuck")
    words = band_words(rule)[rule.level(faults, 40)]
    low, high = _limits(words)
    assert low <= faults <= high


def _limits(words):
    if words.startswith("none"):
        return 0, 0
    numbers = [int(number) for number in re.findall(r"\d+", words.replace("of 40", ""))]
    return numbers[0], 40 if "or more" in words else numbers[-1]
