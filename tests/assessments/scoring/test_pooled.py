"""A rate pooled over sets: worked by hand, and its coverage on invented students with a fixed seed."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.pooled import pooled_defect_rate
from assessments.scoring.proportions import wilson_interval


def test_dispersion_worked_by_hand():
    # Arithmetic. 4, 0, 2, 2 of 10: p = .2, Pearson's sum (4 + 4 + 0 + 0) / 1.6 = 5 on 3 degrees of freedom;
    # expected 1 + .05 * 9 = 1.45 as if on 6 sets: (5 + 6 * 1.45) / 9 = 1.5222.
    found = pooled_defect_rate([4, 0, 2, 2], [10, 10, 10, 10])
    assert found.rate == 0.2
    assert found.dispersion == pytest.approx(13.7 / 9)


def test_one_set_takes_the_expected_dispersion():
    # 1 + .05 * (40 - 1) = 2.95 (arithmetic).
    assert pooled_defect_rate([3], [40]).dispersion == pytest.approx(2.95)
    assert pooled_defect_rate([0, 0], [40, 40]).dispersion == pytest.approx(2.95)


def test_without_likeness_an_even_history_is_wilsons_interval():
    found, plain = (
        pooled_defect_rate([2, 2, 2], [40] * 3, likeness=0),
        wilson_interval(6, 120, confidence=0.95),
    )
    assert (found.low, found.high) == (pytest.approx(plain.low), pytest.approx(plain.high))


def test_sets_without_an_inspected_fan_are_left_out():
    assert pooled_defect_rate([2, 0], [40, 0]) == pooled_defect_rate([2], [40])


def test_nothing_inspected_is_a_result_and_not_an_error():
    found = pooled_defect_rate([], [])
    assert (found.status, found.rate, found.low, found.high) == ("no_data", None, 0.0, 1.0)
    assert found.words == "No fans inspected yet."


def test_ninety_five_percent_intervals_cover_when_fans_of_a_set_are_alike():
    # 2,000 invented students, 8 sets of 12, rate 10 %, likeness .10: a pooled interval that ignores likeness
    # covers too seldom; this one near 95 %. Beta-binomial law; no published value.
    rng = np.random.default_rng(20)
    rates = rng.beta(0.1 * 9, 0.9 * 9, (2000, 8))
    counts = rng.binomial(12, rates)
    naive = [wilson_interval(int(k.sum()), 96, confidence=0.95) for k in counts]
    pooled = [pooled_defect_rate(k.tolist(), [12] * 8) for k in counts]
    assert np.mean([each.low <= 0.1 <= each.high for each in naive]) < 0.88
    assert np.mean([each.low <= 0.1 <= each.high for each in pooled]) > 0.91


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), max_size=12))
def test_the_interval_holds_the_rate_and_never_leaves_the_scale(sets):
    faults, inspected = [min(each) for each in sets], [max(each) for each in sets]
    found = pooled_defect_rate(faults, inspected)
    assert 0 <= found.low <= found.high <= 1
    assert found.rate is None or found.low <= found.rate <= found.high
    assert found.dispersion >= 1


@pytest.mark.parametrize(
    ("faults", "inspected", "code"),
    [
        ([1], [], "counts_of_different_length"),
        ([-1], [3], "negative_count"),
        ([4], [3], "faults_exceed_inspected"),
    ],
)
def test_counts_that_cannot_be_are_refused(faults, inspected, code):
    with pytest.raises(ScoringInputError) as refused:
        pooled_defect_rate(faults, inspected)
    assert refused.value.code == code


def test_a_confidence_that_cannot_be_is_refused():
    with pytest.raises(ScoringInputError, match="confidence"):
        pooled_defect_rate([1], [3], confidence=1.0)
