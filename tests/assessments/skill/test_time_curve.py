"""The learning curve against published unit factors, closed-form regression and simulated students."""

import numpy as np
import pytest

from assessments.skill.interface import SkillInputError
from assessments.skill.time_curve import (
    TimePrior,
    basis,
    cold_prior,
    fit_time_curve,
    prior_from_population,
    wright_curve,
)

# Log-linear unit form (Crawford), factor of the n-th unit and of the first n together. MEM, tol 5e-4.
UNIT_80 = {2: 0.8, 3: 0.7021, 4: 0.64, 5: 0.5956, 8: 0.512, 10: 0.4765, 20: 0.3812, 25: 0.3548, 50: 0.2838}
CUMULATIVE_80 = {2: 1.8, 3: 2.502, 4: 3.142, 5: 3.738, 10: 6.315, 20: 10.485, 25: 12.309, 50: 20.122}
OTHER_RATES = [
    (0.8, 100, 0.2271, 32.651),
    (0.9, 10, 0.7047, 7.994),
    (0.9, 25, 0.6131, 17.713),
    (0.9, 100, 0.4966, 58.141),
    (0.7, 10, 0.3058, 4.932),
    (0.7, 25, 0.1908, 8.404),
]


def test_an_eighty_percent_curve_matches_the_published_factors():
    curve = wright_curve(0.8, 50)
    for number, factor in UNIT_80.items():
        assert curve.unit[number - 1] == pytest.approx(factor, abs=5e-4)
    for number, factor in CUMULATIVE_80.items():
        assert curve.cumulative[number - 1] == pytest.approx(factor, abs=5e-4)


@pytest.mark.parametrize(("rate", "number", "unit", "cumulative"), OTHER_RATES)
def test_other_rates_match_the_published_factors(rate, number, unit, cumulative):
    curve = wright_curve(rate, number)
    assert (curve.unit[-1], curve.cumulative[-1]) == pytest.approx((unit, cumulative), abs=5e-4)


@pytest.mark.parametrize(("rate", "exponent"), [(0.8, -0.3219), (0.9, -0.1520), (0.7, -0.5146)])
def test_the_exponent_is_the_binary_logarithm_of_the_rate(rate, exponent):
    # MEM, tol 5e-4.
    assert np.log2(wright_curve(rate, 2).unit[1]) == pytest.approx(exponent, abs=5e-4)


def test_with_a_prior_that_knows_nothing_the_curve_is_ordinary_least_squares():
    import statsmodels.api as sm  # type: ignore[import-untyped]

    rng = np.random.default_rng(1)
    numbers = np.arange(1, 31)
    seconds = np.exp(9 - 0.3 * np.log(numbers) + rng.normal(0, 0.1, 30))
    vague = TimePrior(np.zeros(3), np.eye(3) * 1e8, 0.1, "vague")
    fit = fit_time_curve(numbers.tolist(), seconds.tolist(), vague)
    other = sm.OLS(np.log(seconds), basis(numbers.astype(float))).fit()
    assert fit.mean == pytest.approx(other.params, rel=1e-4)
    assert fit.covariance / fit.noise**2 == pytest.approx(other.normalized_cov_params, rel=1e-4)


def test_without_the_students_own_sets_the_curve_would_be_that_of_the_group():
    prior = cold_prior(9000)
    fit = fit_time_curve([1], [9000], prior)
    assert (fit.status, fit.words) == (
        "no_data",
        "Too few timed sets for a personal forecast; group curve shown.",
    )
    # 80 % curve from 9000 s: set 2 takes 7200 s, set 4 takes 5760 s (arithmetic).
    assert fit.median_s([1, 2, 4]) == pytest.approx([9000, 7200, 5760])


def test_more_sets_narrow_the_interval_and_one_set_scatters_more_than_the_median():
    numbers = list(range(1, 21))
    seconds = (9000 * np.array(numbers) ** -0.3).tolist()
    few, many = (fit_time_curve(numbers[:n], seconds[:n], cold_prior(9000)) for n in (3, 20))
    widths = [np.diff(np.log(fit.interval_s([25])), axis=0)[0, 0] for fit in (few, many)]
    assert widths[1] < widths[0] / 2
    low, high = many.interval_s([25], of_a_set=True)
    assert np.log(high / low)[0] > widths[1]


def test_one_wild_time_moves_the_curve_less_than_least_squares_would():
    numbers = list(range(1, 11))
    seconds = (9000 * np.array(numbers) ** -0.3).tolist()
    wild = [*seconds[:5], seconds[5] * 8, *seconds[6:]]
    clean, fit = (fit_time_curve(numbers, times, cold_prior(9000)) for times in (seconds, wild))
    assert (clean.clipped, fit.clipped) == (0, 1)
    least = np.polyval(np.polyfit(np.log(numbers), np.log(wild), 1), np.log(10))
    truth = np.log(seconds[-1])
    assert abs(np.log(fit.median_s([10])[0]) - truth) < abs(least - truth)


def test_the_learned_prior_finds_the_population_it_was_drawn_from():
    rng = np.random.default_rng(2)
    mean, deviation, noise = np.array([9.2, -0.35, 0.02]), np.array([0.25, 0.12, 0.03]), 0.12
    numbers = np.arange(1, 21)
    curves = (mean + rng.normal(0, deviation, (400, 3))) @ basis(numbers.astype(float)).T
    seconds = np.exp(curves + rng.normal(0, noise, curves.shape))
    prior = prior_from_population([(numbers, row) for row in seconds.tolist()], first_s=9000)
    assert prior.source == "learned"
    assert np.abs(prior.mean - mean).max() < 0.03
    assert np.sqrt(np.diag(prior.covariance)) == pytest.approx(deviation, rel=0.25)
    assert prior.noise == pytest.approx(noise, rel=0.05)


def test_the_prior_stays_cold_until_thirty_students_have_fifteen_sets():
    student = (range(1, 16), (9000 * np.arange(1.0, 16) ** -0.3).tolist())
    assert prior_from_population([student] * 29, first_s=9000).source == "cold"
    assert prior_from_population([student] * 30, first_s=9000).source == "learned"
    short = (range(1, 15), student[1][:14])
    assert prior_from_population([student] * 29 + [short] * 50, first_s=9000).source == "cold"


def test_a_learned_prior_forecasts_better_than_plain_regression_on_curves_of_another_shape():
    # Small version of the table that the bench prints: students whose times level off at a floor.
    rng = np.random.default_rng(5)
    number = np.arange(1.0, 26)
    floor, rate = 4500 * np.exp(rng.normal(0, 0.25, 120)), np.exp(rng.normal(-0.36, 0.35, 120))
    truth = np.log(floor[:, None] * (1 + 1.4 * number ** -rate[:, None]))
    seconds = np.exp(truth + rng.normal(0, 0.13, truth.shape))
    prior = prior_from_population([(range(1, 26), row) for row in seconds[:60].tolist()], first_s=9000)
    ours, plain, inside = [], [], 0
    for row, wanted in zip(seconds[60:, :5].tolist(), truth[60:, 14], strict=True):
        fit = fit_time_curve(range(1, 6), row, prior)
        low, high = fit.interval_s([15])
        inside += bool(low[0] <= np.exp(wanted) <= high[0])
        ours.append(np.log(fit.median_s([15])[0]) - wanted)
        plain.append(np.polyval(np.polyfit(np.log(number[:5]), np.log(row), 1), np.log(15)) - wanted)
    assert np.std(ours) < 0.6 * np.std(plain)
    assert inside >= 49  # of 60; at a true 90 % fewer come up less than once in fifty


@pytest.mark.parametrize(
    ("numbers", "seconds", "code"),
    [
        ([1, 2], [100.0], "times_of_different_length"),
        ([0], [100.0], "bad_set_number"),
        ([2, 2], [100.0, 100.0], "bad_set_number"),
        ([1], [0.0], "non_positive_time"),
        ([1], [float("nan")], "non_positive_time"),
    ],
)
def test_impossible_times_are_refused_with_a_sentence(numbers, seconds, code):
    with pytest.raises(SkillInputError) as caught:
        fit_time_curve(numbers, seconds, cold_prior(9000))
    assert caught.value.code == code
    assert caught.value.message.endswith(".")


def test_a_rate_or_length_that_cannot_be_is_refused():
    for rate, sets in ((0.0, 5), (1.2, 5), (0.8, 0)):
        with pytest.raises(SkillInputError):
            wright_curve(rate, sets)
    with pytest.raises(SkillInputError, match="above zero"):
        cold_prior(-1)
