"""What the owner sees of a rule: its curve, the numbers behind it, and three in a row beside it."""

import pytest

from assessments.scoring.characteristics import curve
from assessments.scoring.programme_rules import PRESETS, parse_programme
from assessments.scoring.rule_picture import rule_picture


def picture(name="short_course"):
    return rule_picture(parse_programme(PRESETS[name]))


def test_three_in_a_row_is_the_coin_problem_of_the_textbooks():
    """A run of three heads in 20 fair tosses: 1 - 223,317 / 2^20, as 223,317 sequences have none.

    Tribonacci numbers 1, 2, 4, 7, 13, … (OEIS A000073; Feller, An Introduction to Probability, XIII.7).
    """
    assert picture().unready.three == pytest.approx(1 - 223_317 / 2**20, abs=1e-9)
    assert "78.7 % of the time within 20 sets" in picture().three_words


def test_the_rows_are_on_the_curve_of_the_rule():
    found = picture("long_course")
    expected = curve(parse_programme(PRESETS["long_course"]).rule, rates=[row.rate for row in found.rows])
    assert tuple(row.declared for row in found.rows) == expected.declared
    assert tuple(row.median_sets for row in found.rows) == expected.median_sets


def test_the_more_a_student_fails_the_rarer_she_is_declared():
    for name in PRESETS:
        shares = [point.declared for point in picture(name).points]
        assert shares == sorted(shares, reverse=True)


def test_fans_are_not_compared_with_three_sets_in_a_row():
    found = picture("fan_counts")
    assert found.counts_fans and found.three_words == "" and found.ready.three is None


def test_a_rule_without_a_watch_says_nothing_of_one():
    assert rule_picture(parse_programme({**PRESETS["short_course"], "watch": None})).watch_words == ""
    assert "sent to review" in picture().watch_words
