"""Interval arithmetic against published rows, a general statistics library and hand-checkable facts."""

from math import comb, isclose

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint  # type: ignore[import-untyped]

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.proportions import exact_interval, exact_upper_limit, wilson_interval


@st.composite
def counts(draw):
    inspected = draw(st.integers(1, 400))
    return draw(st.integers(0, inspected)), inspected


# R. G. Newcombe, "Two-sided confidence intervals for the single proportion: comparison of seven methods",
# Statistics in Medicine 17 (1998) 857-872. MEM = printed value from memory, reproduced by formula to 1e-4.
NEWCOMBE_1998 = [
    (wilson_interval, 81, 263, 0.2553, 0.3662),  # MEM
    (exact_interval, 81, 263, 0.2527, 0.3676),  # MEM
    (wilson_interval, 0, 20, 0.0000, 0.1611),  # MEM
    (exact_interval, 0, 20, 0.0000, 0.1684),  # MEM
]


@pytest.mark.parametrize(("interval", "faults", "inspected", "low", "high"), NEWCOMBE_1998)
def test_intervals_match_the_rows_of_newcombe_1998(interval, faults, inspected, low, high):
    found = interval(faults, inspected, confidence=0.95)
    assert found.low == pytest.approx(low, abs=1e-4)
    assert found.high == pytest.approx(high, abs=1e-4)


def test_all_faulty_matches_the_computed_wilson_row():
    # CALC: statsmodels 0.15 proportion_confint(29, 29, method="wilson"); not a published number.
    found = wilson_interval(29, 29, confidence=0.95)
    assert (found.low, found.high) == (pytest.approx(0.8830, abs=1e-4), 1.0)


def test_two_faults_in_forty_match_wilsons_formula_worked_by_hand():
    # E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212 (formula, value from memory and worked by hand):
    # 95 %, 2 of 40 -> 1.38 % to 16.50 %, within 0.01 points.
    found = wilson_interval(2, 40, confidence=0.95)
    assert 100 * found.low == pytest.approx(1.38, abs=0.01)
    assert 100 * found.high == pytest.approx(16.50, abs=0.01)


@pytest.mark.parametrize("confidence", [0.80, 0.90, 0.95, 0.99])
@pytest.mark.parametrize(("interval", "method"), [(wilson_interval, "wilson"), (exact_interval, "beta")])
def test_intervals_match_statsmodels_over_a_grid(interval, method, confidence):
    for inspected in (1, 2, 5, 20, 38, 40, 120, 263):
        for faults in {0, 1, 2, inspected // 3, inspected // 2, inspected - 1, inspected}:
            if faults > inspected:
                continue
            low, high = proportion_confint(faults, inspected, alpha=1 - confidence, method=method)
            found = interval(faults, inspected, confidence=confidence)
            assert found.low == pytest.approx(low, abs=1e-9), (faults, inspected)
            assert found.high == pytest.approx(high, abs=1e-9), (faults, inspected)


def test_a_five_percent_fault_rate_shows_none_in_twenty_fans_35_85_percent_of_the_time():
    # Exact binomial: 0.95 ** 20 = 0.3585 (arithmetic). At confidence 1 - 0.3585 the limit is that 5 %.
    assert exact_upper_limit(0, 20, confidence=1 - 0.3585) == pytest.approx(0.05, abs=1e-4)


@pytest.mark.parametrize(
    ("faults", "inspected", "percent"),
    [
        # Exact binomial, 1 - 0.05 ** (1 / n) for none found; each row can be worked by hand.
        (0, 20, 13.91),
        (0, 59, 4.95),
        (0, 30, 9.50),
        (0, 40, 7.22),
        (0, 120, 2.47),
        # Exact binomial: at 3.89 % the chance of 0 or 1 in 120 is 5 %.
        (1, 120, 3.89),
    ],
)
def test_one_sided_upper_limits_are_the_exact_binomial_ones(faults, inspected, percent):
    assert 100 * exact_upper_limit(faults, inspected) == pytest.approx(percent, abs=0.01)


@pytest.mark.parametrize(("rate", "inspected"), [(0.10, 29), (0.05, 59)])
def test_the_fewest_clean_fans_that_show_a_rate_are_those_of_the_zero_fault_demonstration(rate, inspected):
    # Arithmetic: smallest n with (1 - rate) ** n <= 0.05 (CALC, exact binomial).
    assert exact_upper_limit(0, inspected) <= rate < exact_upper_limit(0, inspected - 1)


@settings(max_examples=60)
@given(counts(), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_the_upper_limit_leaves_exactly_the_stated_chance_below(case, confidence):
    # The defining equation of Clopper and Pearson, Biometrika 26 (1934) 404-413.
    faults, inspected = case
    if faults == inspected:
        assert exact_upper_limit(faults, inspected, confidence=confidence) == 1
        return
    limit = exact_upper_limit(faults, inspected, confidence=confidence)
    below = sum(comb(inspected, k) * limit**k * (1 - limit) ** (inspected - k) for k in range(faults + 1))
    assert isclose(below, 1 - confidence, rel_tol=1e-6)


@settings(max_examples=60)
@given(counts())
def test_both_intervals_hold_the_observed_rate_and_stay_between_none_and_all(case):
    wilson, exact = wilson_interval(*case), exact_interval(*case)
    for found in (wilson, exact):
        assert 0 <= found.low <= found.rate <= found.high <= 1
    assert exact.low <= wilson.rate <= exact.high


@settings(max_examples=60)
@given(counts(), st.sampled_from([wilson_interval, exact_interval]))
def test_counting_clean_fans_instead_mirrors_the_interval(case, interval):
    faults, inspected = case
    found, mirrored = interval(faults, inspected), interval(inspected - faults, inspected)
    assert found.low == pytest.approx(1 - mirrored.high, abs=1e-9)


@settings(max_examples=60)
@given(counts(), st.sampled_from([wilson_interval, exact_interval]))
def test_more_confidence_never_narrows_the_interval(case, interval):
    narrow, wide = interval(*case, confidence=0.90), interval(*case, confidence=0.95)
    assert wide.low <= narrow.low
    assert narrow.high <= wide.high


@pytest.mark.parametrize("interval", [wilson_interval, exact_interval])
def test_ends_are_exactly_zero_and_one(interval):
    assert interval(0, 40).low == 0
    assert interval(40, 40).high == 1


@pytest.mark.parametrize("interval", [wilson_interval, exact_interval])
def test_nothing_inspected_leaves_everything_possible(interval):
    found = interval(0, 0)
    assert (found.rate, found.low, found.high, found.confidence) == (None, 0, 1, 0.90)
    assert exact_upper_limit(0, 0) == 1


@pytest.mark.parametrize("compute", [wilson_interval, exact_interval, exact_upper_limit])
def test_impossible_counts_are_refused_with_a_sentence(compute):
    with pytest.raises(ScoringInputError) as caught:
        compute(3, 2)
    assert caught.value.code == "faults_exceed_inspected"
    assert str(caught.value) == "3 faults recorded but only 2 fans inspected. Check the ticks."
    with pytest.raises(ScoringInputError) as caught:
        compute(-1, 2)
    assert caught.value.code == "negative_count"
    with pytest.raises(ScoringInputError) as caught:
        compute(1, 2, confidence=1.0)
    assert caught.value.code == "confidence_out_of_range"


def test_one_fault_and_one_fan_are_named_in_the_singular():
    with pytest.raises(ScoringInputError, match="2 faults recorded but only 1 fan inspected"):
        wilson_interval(2, 1)
    with pytest.raises(ScoringInputError, match="1 fault recorded but only 0 fans inspected"):
        wilson_interval(1, 0)
