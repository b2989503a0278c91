from dataclasses import fields

import numpy as np
import pytest
from scipy.special import logit
from scipy.stats import betabinom, nbinom

from assessments.skill.likelihood import (
    CountScales,
    ability_at,
    band_level,
    category_weights,
    count_chance,
    count_news,
    count_scale_from_bands,
    fault_share,
    level_chances,
    level_moments,
    level_moments_of_few,
    weighted_powers,
)
from assessments.skill.parameters import CountScale

TAU = (-1.90, -0.65, 0.60, 1.95)
WEIGHTS = category_weights(TAU)
ETAS = np.linspace(-6, 6, 25)


def test_adjacent_levels_have_log_odds_ability_minus_threshold():
    """The definition of the rating-scale model: ln P(j) / P(j-1) = eta - tau_j (Andrich 1978; MEM)."""
    chances = level_chances(ETAS, WEIGHTS)
    assert np.log(chances[:, 1:] / chances[:, :-1]) == pytest.approx(ETAS[:, None] - np.array(TAU))
    assert chances.sum(axis=1) == pytest.approx(1)


def test_two_levels_alone_are_the_logistic_curve():
    """With the upper thresholds out of reach only levels 0 and 1 are left: the Rasch model (MEM)."""
    mean, variance = level_moments(ETAS, category_weights((0.3, 40, 40, 40)).tolist())
    p = 1 / (1 + np.exp(0.3 - ETAS))
    assert mean == pytest.approx(p)
    assert variance == pytest.approx(p * (1 - p), abs=1e-9)


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_moments_by_powers_are_those_of_the_chances(dtype):
    levels, chances = np.arange(5), level_chances(ETAS, WEIGHTS)
    mean, variance = level_moments(ETAS.astype(dtype), WEIGHTS.tolist())
    assert mean.dtype == dtype
    assert mean == pytest.approx(chances @ levels, abs=1e-5)
    assert variance == pytest.approx(chances @ levels**2 - (chances @ levels) ** 2, abs=1e-5)
    few = level_moments_of_few(ETAS, weighted_powers(WEIGHTS.tolist()))
    assert np.array(few) == pytest.approx(np.array([mean, variance]), abs=1e-5)


def test_the_variance_is_the_slope_of_the_mean():
    """An exponential family: dE/d eta = V (MEM)."""
    step = 1e-5
    rise = level_moments(ETAS + step, WEIGHTS.tolist())[0] - level_moments(ETAS - step, WEIGHTS.tolist())[0]
    assert rise / (2 * step) == pytest.approx(level_moments(ETAS, WEIGHTS.tolist())[1], abs=1e-8)


def test_far_off_the_scale_nothing_overflows():
    mean, variance = level_moments(np.array([-1e6, 1e6]), WEIGHTS.tolist())
    assert mean == pytest.approx([0, 4], abs=1e-3)
    assert np.isfinite(variance).all()


def test_ability_at_a_level_has_that_level():
    assert level_moments(ability_at([0.5, 2.0, 3.5], TAU), WEIGHTS.tolist())[0] == pytest.approx(
        [0.5, 2, 3.5]
    )


def test_a_fault_share_falls_by_the_slope_in_log_odds():
    scale = CountScale(base=-2.0, slope=0.5)
    assert logit(fault_share([0.0, 2.0], scale)) == pytest.approx([-2.0, -3.0])


def test_a_bent_fault_curve_is_steeper_on_one_side_and_never_rises():
    """Far off the middle its logit falls by slope - bend and slope + bend (limits of the hyperbola)."""
    scale = CountScale(base=-1.0, slope=0.5, bend=0.3)
    shares = logit(fault_share(np.linspace(-30, 30, 601), scale))
    assert (np.diff(shares) <= 0).all()
    assert [shares[10] - shares[0], shares[-201] - shares[-191]] == pytest.approx([-0.2, 0.8], abs=0.02)


@pytest.mark.parametrize("rise", [0.0, 0.3])
def test_the_news_of_a_count_is_the_slope_of_its_quasi_likelihood(rise):
    """Central differences (arithmetic)."""
    eta = np.linspace(-4, 4, 9)
    scales, faults, inspected = one_scale(bend=0.2, rise=rise), np.full(9, 3.0), np.full(9, 40.0)
    up, down = (count_chance(eta + step, faults, inspected, scales) for step in (1e-4, -1e-4))
    assert count_news(eta, faults, inspected, scales)[0] == pytest.approx((up - down) / 2e-4, rel=1e-5)


def test_a_rate_that_itself_varies_gives_the_score_of_the_negative_binomial():
    """Faults are few, and 1 / size = rise: oracle scipy.stats.nbinom, by central differences (CALC)."""
    scales, faults = one_scale(base=-7.0, dispersion=0.0, rise=0.25), np.arange(8.0)

    def chance(eta):
        mean = 4000 * np.exp(-7.0 - 0.6 * eta)
        return nbinom.logpmf(faults, 4, 4 / (4 + mean))

    score, _ = count_news(np.full(8, 0.4), faults, np.full(8, 4000.0), scales)
    assert score == pytest.approx((chance(0.4 + 1e-4) - chance(0.4 - 1e-4)) / 2e-4, abs=0.005)


def one_scale(**figures):
    scale = CountScale(**figures)
    return CountScales(*(np.array([getattr(scale, item.name)]) for item in fields(CountScales)))


def test_bands_give_a_scale_that_runs_through_them():
    """Rubric: none of 40 is level 4, 1 level 3, 2 level 2, 3 to 6 level 1. A perfectly straight set of bands
    would be met exactly; these are met within half a level."""
    scale = count_scale_from_bands((0, 1, 2, 6), 40, TAU)
    shares = fault_share(ability_at([0.5, 1.5, 2.5, 3.5], TAU), scale)
    assert shares[::-1] * 40 == pytest.approx([0.5, 1.5, 2.5, 6.5], rel=0.35)
    assert scale.at_most == (0, 1, 2, 6)


def test_the_expected_level_of_bands_is_that_of_the_beta_binomial():
    """Oracle: scipy.stats.betabinom (CALC)."""
    scale = CountScale(-2.5, 0.7, 0.04, (0, 1, 2, 6), 40)
    p, whole = fault_share(ETAS, scale), 1 / 0.04 - 1
    expected = sum(betabinom.cdf(most, 40, p * whole, (1 - p) * whole) for most in (0, 1, 2, 6))
    assert band_level(ETAS, scale) == pytest.approx(expected)


def test_without_dispersion_the_bands_are_binomial():
    """P(0 of 20 when the true rate is 5 %) = .3585 (arithmetic)."""
    scale = CountScale(float(logit(0.05)), 1.0, 0.0, (0,), 20)
    assert band_level([0.0], scale) == pytest.approx([0.3585], abs=1e-4)
