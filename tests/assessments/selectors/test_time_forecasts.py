"""Set times against their target, from three sets on, and never without the fault rate."""

from datetime import timedelta
from math import log2

import pytest

from assessments.models import ParameterVersion
from assessments.selectors.time_forecasts import time_forecasts
from tests.factories.assessments import STARTED, Bench, Outcome, make_graded_set

STUCK = Outcome(faults={0: ["STK"], 1: ["STK"]}, bare=[2])


def work(bench: Bench, *minutes: int, outcome: Outcome | None = None) -> None:
    for nth, each in enumerate(minutes):
        make_graded_set(bench, at=STARTED + timedelta(days=nth), minutes=each, outcome=outcome)


def test_two_sets_are_too_few_for_a_forecast(bench: Bench, django_assert_num_queries):
    work(bench, 240, 220)
    with django_assert_num_queries(1):
        assert time_forecasts(bench.student, None) == ()


def test_from_three_sets_on_it_tells_sets_still_needed_with_a_range_and_the_faults(bench: Bench):
    work(bench, 260, 235, 220, outcome=STUCK)
    (found,) = time_forecasts(bench.student, None)
    assert found.forecast.q10 is not None and found.forecast.q50 is not None
    assert found.forecast.q10 <= found.forecast.q50
    assert "80 % range" in found.forecast.words
    assert found.forecast.words.endswith(
        "Beside it: 9 of 120 places looked at in the latest 3 sets had a fault (7.5 %)."
    )


def test_the_curve_falls_as_an_eighty_per_cent_curve_does_when_the_times_do(bench: Bench):
    """Each doubling takes a fifth off (T. P. Wright 1936, unit form): set 4 takes .64 of set 1."""
    first = 300
    work(bench, *(round(first * n ** log2(0.8)) for n in range(1, 5)))
    (found,) = time_forecasts(bench.student, None)
    assert found.points[3].usual / found.points[0].usual == pytest.approx(0.64, abs=0.03)
    assert [point.worked is None for point in found.points[:5]] == [False] * 4 + [True]
    assert all(point.low < point.usual < point.high for point in found.points)


def test_a_prior_learned_from_other_students_is_used_on_its_brief(bench: Bench):
    work(bench, 260, 235, 220)
    flat = {"mean": [9.6, 0.0, 0.0], "covariance": [[1e-4, 0, 0], [0, 1e-4, 0], [0, 0, 1e-4]], "noise": 0.2}
    version = ParameterVersion(time_priors={str(bench.brief.brief_id): flat})
    (cold,), (learned,) = time_forecasts(bench.student, None), time_forecasts(bench.student, version)
    assert learned.points[2].usual == pytest.approx(2.718281828**9.6 / 60, rel=0.05)
    assert cold.points[2].usual < learned.points[2].usual


def test_three_queries_whatever_the_number_of_sets(bench: Bench, django_assert_num_queries):
    work(bench, 260, 235, 220, 215)
    with django_assert_num_queries(3):
        time_forecasts(bench.student, None)
