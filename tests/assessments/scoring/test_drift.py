"""Drift: Welch's interval against a general library, clusters worked by hand, and the sentences."""

import numpy as np
import pytest
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW  # type: ignore[import-untyped]

from assessments.scoring.drift import severity_drift
from assessments.scoring.evidence import ScoringInputError


def alone(count):
    """Every set from a different student."""
    return [f"student {number}" for number in range(count)]


def test_with_one_set_a_student_the_interval_is_welchs():
    rng = np.random.default_rng(1)
    gaps, days = rng.normal(0, 0.6, 30), np.arange(30.0)
    gaps[18:] -= 0.5
    found = severity_drift("Ines", gaps, days, alone(30), cut_day=18)
    low, high = CompareMeans(DescrStatsW(gaps[18:]), DescrStatsW(gaps[:18])).tconfint_diff(
        alpha=0.10, usevar="unequal"
    )
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)
    assert found.change == pytest.approx(gaps[18:].mean() - gaps[:18].mean())


def test_sets_of_one_student_count_as_one_cluster():
    # Each student's sets all equal: repeating them four times must not narrow the interval (arithmetic).
    gaps, days = [0.1, -0.2, 0.3, 0.0, 0.2, -0.4, -0.1, -0.6, -0.3, -0.5], list(range(10))
    once = severity_drift("Ines", gaps, days, alone(10))
    again = severity_drift("Ines", gaps * 4, days * 4, alone(10) * 4)
    assert (again.low, again.high) == pytest.approx((once.low, once.high))


def test_an_educator_who_grew_stricter_is_told_by_how_much():
    rng = np.random.default_rng(2)
    gaps = np.concatenate([rng.normal(0, 0.3, 20), rng.normal(-0.6, 0.3, 20)])
    found = severity_drift("Ines", gaps, np.arange(40.0), alone(40))
    assert found.status == "stricter"
    assert found.words.startswith("Ines has become stricter: marks lie 0.")
    assert "levels lower in the later 20 sets than in the earlier 20 (90 % interval" in found.words
    milder = severity_drift("Ines", -gaps, np.arange(40.0), alone(40))
    assert (milder.status, milder.low, milder.high) == ("milder", -found.high, -found.low)


def test_a_steady_educator_is_said_to_be_steady_with_the_range():
    found = severity_drift("Ines", [0.3, -0.3] * 10, np.arange(20.0), alone(20))
    assert found.status == "steady"
    assert found.words.startswith("No sign that Ines has become stricter or milder: the change lies between")


def test_the_windows_part_at_the_median_day_unless_told_otherwise():
    found = severity_drift("Ines", [0.0] * 12, np.arange(12.0), alone(12))
    assert (found.sets, found.cut_day) == ((6, 6), 5.5)
    assert severity_drift("Ines", [0.0] * 12, np.arange(12.0), alone(12), cut_day=5).sets == (5, 7)


def test_too_few_sets_or_a_single_student_are_an_answer():
    few = severity_drift("Ines", [0.0] * 4, range(4), alone(4))
    assert (few.status, few.change) == ("no_data", None)
    assert "(2 early, 2 late)" in few.words
    assert severity_drift("Ines", [0.1] * 20, range(20), ["one"] * 20).status == "no_data"
    assert severity_drift("Ines", [], [], []).status == "no_data"


def test_gaps_that_are_no_numbers_or_do_not_match_are_refused():
    with pytest.raises(ScoringInputError, match="Every set needs"):
        severity_drift("Ines", [0.0], [1.0, 2.0], ["a"])
    with pytest.raises(ScoringInputError, match="not a number"):
        severity_drift("Ines", [float("nan")], [1.0], ["a"])
