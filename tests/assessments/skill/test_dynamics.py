from dataclasses import replace

import numpy as np
import pytest

from assessments.skill.arrays import parameter_arrays
from assessments.skill.batch import filter_table
from assessments.skill.calibrate import calibrated
from assessments.skill.dynamics import fitted, has_enough, log_evidence
from assessments.skill.likelihood import level_chances
from assessments.skill.parameters import Criterion, Dynamics, Facet, Parameters, Skill
from assessments.skill.report import Z90, level_with_interval
from assessments.skill.table import MarkTable
from tests.bench.simulators import model_like, other
from tests.bench.simulators.school import SKILLS, first_sets, start_parameters

PARAMETERS = Parameters(
    "1", (Skill("a"),), (Criterion("c", "a"),), educators={"e": Facet(0, 0)}, briefs={"b": Facet(0, 0)}
)


def one_mark(level):
    zero, empty = np.zeros(1, dtype=int), np.zeros((1, 0), dtype=np.int16)
    return MarkTable(
        1, zero, zero + 0.0, zero, zero, np.array([[level]], dtype=np.int8), empty, empty, ("e",), ("b",)
    )


def test_the_evidence_of_one_mark_is_its_probability_found_by_integration():
    """Oracle: the chance of each level averaged over the prior on a grid (CALC); Laplace within 3 %."""
    arrays, dynamics = parameter_arrays(PARAMETERS), PARAMETERS.dynamics
    variance = dynamics.start_common + dynamics.start_own + dynamics.day_common + dynamics.day_own
    grid = np.linspace(-8, 6, 4001)
    weight = np.exp(-((grid - dynamics.start) ** 2) / (2 * variance))
    exact = weight @ level_chances(grid, np.array(arrays.weights)) / weight.sum()
    found = np.exp([log_evidence(one_mark(level), arrays) for level in range(5)])
    assert found == pytest.approx(exact, rel=0.05)
    assert found.sum() == pytest.approx(1, abs=0.03)


def test_the_evidence_prefers_the_spread_that_drew_the_marks():
    table = model_like.simulate(np.random.default_rng(3), students=200, sets=6).table
    there = calibrated(table, replace(start_parameters(), dynamics=model_like.TRUE), version="1")

    def at(**change):
        return log_evidence(
            table, parameter_arrays(replace(there, dynamics=replace(there.dynamics, **change)))
        )

    assert at() > at(start_common=7.0) and at() > at(start_common=0.07)
    assert at() > at(step_own=0.5) and at() > at(day_own=1.0)


def test_breaks_that_cost_little_lengthen_the_half_lives():
    """Drawn with half-lives of 4 years and a break in every third gap; the guide says 6.5 and 13 months."""
    true, guide = model_like.TRUE, Dynamics()
    model_like.TRUE = replace(true, fade_days_accuracy=1460.0, fade_days_speed=1460.0, fade_spread=0.0)
    try:
        school = model_like.simulate(np.random.default_rng(4), students=220, sets=8, break_chance=0.3)
    finally:
        model_like.TRUE = true
    found = fitted(school.table, calibrated(school.table, start_parameters(), version="1"), iterations=6)
    assert found.dynamics.fade_days_accuracy > 1.5 * guide.fade_days_accuracy
    ratio = found.dynamics.fade_days_speed / found.dynamics.fade_days_accuracy
    assert ratio == pytest.approx(guide.fade_days_speed / guide.fade_days_accuracy)


def test_too_few_students_change_nothing():
    table = model_like.simulate(np.random.default_rng(3), students=20).table
    assert not has_enough(table)
    assert fitted(table, start_parameters()) == start_parameters()


@pytest.mark.parametrize("simulator", [model_like, other])
def test_nine_in_ten_intervals_of_new_students_hold_the_truth(simulator):
    """The promise of the 90 % interval, on students the fit has not seen, in a school of the model's own form
    and in one of another. 300 students x 4 skills, so one standard error is about .012: .85 to .95 is three
    or four. The long tables are in tests/bench."""
    school = simulator.simulate(np.random.default_rng(21), students=500, sets=6)
    train, new = (school.table.of_students(np.arange(*ends)) for ends in ((0, 200), (200, 500)))
    start = calibrated(train, start_parameters(), version="1")
    arrays = parameter_arrays(calibrated(train, fitted(train, start, iterations=8), version="2"))
    beliefs = filter_table(first_sets(new, 5), arrays)
    held = [_held(beliefs, school.truth[200:, 4, skill], skill, arrays) for skill in range(len(SKILLS))]
    assert 0.85 < np.mean(held) < 0.95


def _held(beliefs, truth, skill, arrays):
    spread = np.sqrt(beliefs.covariance[:, skill, skill] + beliefs.lean[:, skill] ** 2)
    _, low, high = level_with_interval(beliefs.mean[:, skill], spread, skill, arrays)
    return (low <= truth) & (truth <= high)


def test_the_interval_is_the_normal_one_without_any_widening_factor():
    """95th percentile of the normal distribution, printed tables: 1.6449."""
    assert pytest.approx(1.6449, abs=1e-4) == Z90
    assert Dynamics() == PARAMETERS.dynamics
