"""What each rule reads from a set, and what it refuses."""

from typing import Any

import numpy as np
import pytest
from scipy.stats import betabinom, binom

from assessments.scoring.competence_rules import (
    CompetenceInputError,
    Conditions,
    FanSequential,
    LearningCusum,
    RunOfPasses,
    SetResult,
    WaldTest,
    beta_binomial,
)

RATES: dict[str, Any] = {"acceptable_rate": 0.10, "inadequate_rate": 0.30, "horizon": 20}
CUSUM = LearningCusum(**RATES, threshold=3.0)
FANS = FanSequential(
    acceptable_rate=0.02, inadequate_rate=0.10, refuse_risk=0.10, declare_risk=0.05, horizon=20
)


def test_a_set_without_a_gate_mark_is_not_a_pass():
    assert [CUSUM.outcome(SetResult(failed=failed)) for failed in (None, False, True)] == [None, 0, 1]


def test_fan_counts_need_an_inspection():
    assert FANS.outcome(SetResult(failed=False)) is None
    assert FANS.outcome(SetResult(faults=3, inspected=40)) == 3


def test_beta_binomial_chances_agree_with_scipy_stats():
    rates = np.array([0.02, 0.10, 0.5])
    found = beta_binomial(40, rates, 0.05)
    for place, rate in enumerate(rates):
        expected = betabinom.pmf(np.arange(41), 40, rate * 19, (1 - rate) * 19)
        assert found[:, place] == pytest.approx(expected, abs=1e-12)
    assert beta_binomial(40, rates, 0.0)[:, 1] == pytest.approx(binom.pmf(np.arange(41), 40, 0.10), abs=1e-12)


def test_chances_of_a_set_sum_to_one_also_at_the_ends():
    for rule in (CUSUM, FANS):
        chances = rule.chances(np.array([0.0, 0.3, 1.0]), Conditions(0.4, 40))
        assert chances.sum(axis=0) == pytest.approx([1, 1, 1])
        assert np.isfinite(chances).all()


def test_likeness_divides_the_evidence_of_a_set():
    # Dispersion 1 + .05 * 39 = 2.95 (arithmetic).
    plain = FanSequential(
        acceptable_rate=0.02, inadequate_rate=0.10, refuse_risk=0.1, declare_risk=0.05, horizon=20, rho=0.0
    )
    start, two, conditions = np.zeros(1), np.array([2]), Conditions(0.0, 40)
    assert plain.move(start, two, conditions) == pytest.approx(2.95 * FANS.move(start, two, conditions))


def test_equal_sums_in_another_order_are_a_tie():
    # 3 passes at +.25131 need exactly the threshold whichever way they are added.
    weight = float(np.log(0.9 / 0.7))
    rule = LearningCusum(**RATES, threshold=3 * weight)
    assert rule.verdict(np.array([weight + weight + weight, (3 * weight) - 1e-12])).tolist() == [1, 1]


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (
            lambda: LearningCusum(acceptable_rate=0.3, inadequate_rate=0.1, horizon=9, threshold=3),
            "acceptable_rate",
        ),
        (lambda: LearningCusum(acceptable_rate=0.1, inadequate_rate=0.3, horizon=0, threshold=3), "horizon"),
        (lambda: LearningCusum(**RATES, threshold=0), "threshold"),
        pytest.param(lambda: LearningCusum(**RATES, threshold=float("nan")), "threshold", id="not a number"),
        (lambda: WaldTest(**RATES, refuse_risk=0.1, declare_risk=0.6), "declare_risk"),
        (lambda: RunOfPasses(**RATES, length=0), "length"),
        (lambda: FanSequential(**RATES, refuse_risk=0.1, declare_risk=0.1, rho=1.0), "rho"),
        (lambda: FanSequential(**RATES, refuse_risk=0.1, declare_risk=0.1, inspected=0), "inspected"),
        (lambda: SetResult(faults=5, inspected=4), "faults"),
        (lambda: SetResult(failed=False, shift=float("inf")), "shift"),
    ],
)
def test_what_cannot_be_is_refused_with_the_entry_to_correct(make, field):
    with pytest.raises(CompetenceInputError) as refused:
        make()
    assert refused.value.field == field
    assert refused.value.message.endswith(".")
