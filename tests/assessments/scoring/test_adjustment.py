"""What severity does to a fail rate, by arithmetic and against the model written out."""

from math import exp, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.scoring.adjustment import evidence_weights, fail_shift, shifted_rate

THRESHOLDS = (-1.90, -0.65, 0.60, 1.95)


def test_a_logit_of_leniency_turns_thirty_percent_into_thirteen_point_six():
    # Odds .3/.7 divided by e (arithmetic).
    odds = 0.3 / 0.7 / exp(1)
    assert float(shifted_rate(0.30, -1.0)) == pytest.approx(odds / (1 + odds))
    assert odds / (1 + odds) == pytest.approx(0.136, abs=1e-3)


def test_weights_at_ten_against_thirty_percent():
    # ln(.9/.7) = +.25131 and ln(.1/.3) = -1.09861 (CALC; arithmetic).
    assert evidence_weights(0.10, 0.30) == (
        pytest.approx(0.25131, abs=1e-5),
        pytest.approx(-1.09861, abs=1e-5),
    )


def test_a_pass_from_a_lenient_educator_is_worth_less_and_a_fail_costs_more():
    usual, lenient = evidence_weights(0.10, 0.30), evidence_weights(0.10, 0.30, -1.0)
    assert lenient[0] < usual[0]
    assert lenient[1] < usual[1]


@given(st.floats(-3, 3), st.floats(0.01, 0.5), st.floats(0.05, 0.45))
def test_evidence_grows_on_average_for_the_ready_and_shrinks_for_the_others(shift, acceptable, further):
    inadequate = acceptable + further
    weights = evidence_weights(acceptable, inadequate, shift)
    ready, unready = (float(shifted_rate(rate, shift)) for rate in (acceptable, inadequate))
    assert (1 - ready) * weights[0] + ready * weights[1] > 0
    assert (1 - unready) * weights[0] + unready * weights[1] < 0


def _chance_of_a_fail(eta):
    """The rating-scale model in plain sums: levels 0 and 1 out of 0..4."""
    weights = [exp(j * eta - sum(THRESHOLDS[:j])) for j in range(5)]
    return sum(weights[:2]) / sum(weights)


@pytest.mark.parametrize("severity", [-1.0, 0.5])
def test_the_shift_on_the_marking_scale_agrees_with_the_model_written_out(severity):
    # Find by a fine grid where the written-out model fails 10 % and 30 %, then move by the severity.
    grid = np.linspace(-4, 4, 80_001)
    fails = np.array([_chance_of_a_fail(eta) for eta in grid])
    shifts = []
    for rate in (0.10, 0.30):
        moved = _chance_of_a_fail(grid[np.abs(fails - rate).argmin()] - severity)
        shifts.append(log(moved / (1 - moved)) - log(rate / (1 - rate)))
    found = fail_shift(severity, THRESHOLDS, cut=2, rates=(0.10, 0.30))
    assert found == pytest.approx(np.mean(shifts), abs=2e-3)


def test_one_logit_of_severity_moves_a_fail_rate_by_more_than_one():
    assert fail_shift(1.0, THRESHOLDS, cut=2, rates=(0.10, 0.30)) > 1.4
    assert fail_shift(-1.0, THRESHOLDS, cut=2, rates=(0.10, 0.30)) < -1.4
    assert fail_shift(0.0, THRESHOLDS, cut=2, rates=(0.10, 0.30)) == pytest.approx(0, abs=1e-9)
