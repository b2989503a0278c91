"""The dynamic programme against every sequence written out one by one, with the rules in their own words."""

from itertools import product
from math import exp, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring import chain
from assessments.scoring.chain import walk
from assessments.scoring.competence_rules import (
    Conditions,
    FanSequential,
    LearningCusum,
    RunOfPasses,
    WaldTest,
)

RATES = {"acceptable_rate": 0.10, "inadequate_rate": 0.30}
CUSUM = LearningCusum(**RATES, threshold=1.2, horizon=12)
WALD = WaldTest(**RATES, refuse_risk=0.2, declare_risk=0.2, horizon=12)
RUN = RunOfPasses(**RATES, length=3, horizon=12)
FANS = FanSequential(
    acceptable_rate=0.02, inadequate_rate=0.10, refuse_risk=0.10, declare_risk=0.05, horizon=20
)


def _moved(rate, shift):
    odds = rate / (1 - rate) * exp(shift)
    return odds / (1 + odds)


def _cusum_declares(fails, shifts):
    total = 0.0
    for failed, shift in zip(fails, shifts, strict=True):
        p0, p1 = _moved(0.10, shift), _moved(0.30, shift)
        total = max(0.0, total + (log(p0 / p1) if failed else log((1 - p0) / (1 - p1))))
        if total >= 1.2 - 1e-9:
            return True
    return False


def _wald_declares(fails, shifts):
    total = 0.0
    for failed, shift in zip(fails, shifts, strict=True):
        p0, p1 = _moved(0.10, shift), _moved(0.30, shift)
        total += log(p1 / p0) if failed else log((1 - p1) / (1 - p0))
        if total <= log(0.2 / 0.8) + 1e-9:
            return True
        if total >= log(0.8 / 0.2) - 1e-9:
            return False
    return False


def _run_declares(fails, shifts):
    return "PPP" in "".join("F" if failed else "P" for failed in fails)


def _enumerated(declares, rate, shifts):
    total = 0.0
    for fails in product((False, True), repeat=len(shifts)):
        if declares(fails, shifts):
            chances = [
                _moved(rate, s) if f else 1 - _moved(rate, s) for f, s in zip(fails, shifts, strict=True)
            ]
            total += float(np.prod(chances))
    return total


@pytest.mark.parametrize(
    ("rule", "declares"), [(CUSUM, _cusum_declares), (WALD, _wald_declares), (RUN, _run_declares)]
)
@pytest.mark.parametrize("shifts", [(0.0,) * 12, (-0.8, 0.0, 0.6) * 4], ids=["usual", "three educators"])
def test_the_programme_agrees_with_all_4096_sequences_of_12_sets(rule, declares, shifts):
    exact = walk(rule, [Conditions(shift) for shift in shifts], [0.30, 0.10]).declared[-1]
    assert exact == pytest.approx([_enumerated(declares, rate, shifts) for rate in (0.30, 0.10)], abs=1e-12)


def test_fan_counts_agree_with_every_sequence_of_three_small_sets():
    rule = FanSequential(
        acceptable_rate=0.1,
        inadequate_rate=0.4,
        refuse_risk=0.3,
        declare_risk=0.3,
        rho=0.2,
        inspected=4,
        horizon=3,
    )
    chances = rule.chances(np.array([0.4]), rule.usual)[:, 0]
    total = 0.0
    for counts in product(range(5), repeat=3):
        evidence, chance, verdict = 0.0, 1.0, 0
        for k in counts:
            chance *= chances[k]
            evidence += (k * log(0.1 / 0.4) + (4 - k) * log(0.9 / 0.6)) / 1.6
            if not verdict:
                verdict = (evidence >= log(0.7 / 0.3)) - (evidence <= log(0.3 / 0.7))
        total += chance * (verdict > 0)
    assert walk(rule, [rule.usual] * 3, [0.4]).declared[-1, 0] == pytest.approx(total, abs=1e-12)


def test_not_yet_waits_for_teaching_and_then_starts_again():
    # By hand: 2 fails at once are "not yet" (2 ln 3 > ln 4), and 6 passes declare (6 ln(.9/.7) > ln 4).
    # Fails on sets 1 and 2 and passes on 3 to 8 therefore declare by set 8 only with teaching.
    last_eight = [walk(WALD, [Conditions(retaught=taught)] * 8, [0.1]).declared[-1, 0] for taught in (0, 1)]
    assert last_eight[1] - last_eight[0] >= 0.1**2 * 0.9**6 - 1e-12
    never = walk(WALD, [Conditions()] * 12, [0.1])
    taught = walk(WALD, [Conditions(retaught=True)] * 12, [0.1])
    assert taught.declared[-1, 0] > never.declared[-1, 0]
    assert taught.not_yet[-1, 0] < never.not_yet[-1, 0]


def test_everybody_is_declared_or_told_not_yet_or_still_open():
    found = walk(WALD, [Conditions(0.1 * (n % 3)) for n in range(30)], [0.05, 0.2, 0.5])
    total = found.declared + found.not_yet
    assert np.all(total <= 1 + 1e-12)
    assert np.all(np.diff(total, axis=0) >= -1e-12)


def test_coarse_sums_only_ever_raise_the_risk_and_by_little(monkeypatch):
    rng = np.random.default_rng(4)
    conditions = [Conditions(float(rng.normal(0, 0.4)), int(rng.integers(34, 46))) for _ in range(8)]
    coarse = walk(FANS, conditions, [0.10]).declared[-1, 0]
    monkeypatch.setattr(chain, "MOST_STATES", 10**7)
    exact = walk(FANS, conditions, [0.10]).declared[-1, 0]
    assert exact < coarse < exact + 5e-4


def test_rules_on_sets_stay_exact_with_a_different_educator_on_every_set(monkeypatch):
    # A logit shift leaves the odds ratio of the two rates alone, so few sums differ.
    rng = np.random.default_rng(5)
    conditions = [Conditions(float(shift)) for shift in rng.normal(0, 0.5, 40)]
    found = [walk(rule, conditions, [0.3]).declared[-1, 0] for rule in (CUSUM, WALD, RUN)]
    monkeypatch.setattr(chain, "MOST_STATES", 10**7)
    assert [walk(rule, conditions, [0.3]).declared[-1, 0] for rule in (CUSUM, WALD, RUN)] == found


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from([CUSUM, WALD, RUN]),
    st.lists(st.floats(-1.5, 1.5), min_size=1, max_size=10),
)
def test_a_student_who_fails_more_is_never_declared_more_often(rule, shifts):
    rates = np.linspace(0.02, 0.98, 25)
    declared = walk(rule, [Conditions(shift) for shift in shifts], rates).declared[-1]
    assert np.all(np.diff(declared) <= 1e-12)
