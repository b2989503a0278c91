"""What a level or a fault count says about ability on the day: rating-scale and over-dispersed counts.

Levels: P(y = j) proportional to exp(j eta - tau_1 - ... - tau_j), D. Andrich, Psychometrika 43 (1978)
561-573.
Counts: logit share = base - slope eta - bend sqrt(reach^2 + eta^2), with a variance between that of the
beta-binomial (J. G. Skellam, J. R. Stat. Soc. B 10 (1948) 257-261) and that of a clustered rate
(M. Greenwood and G. U. Yule, J. R. Stat. Soc. 83 (1920) 255-279), taken as a quasi-likelihood: P. McCullagh
and J. Nelder, Generalized Linear Models, 2nd ed. 1989, chapters 4 and 9. (References from memory.)
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import scipy as sp  # loads `special` at first use

from assessments.skill.interface import TOP_LEVEL
from assessments.skill.parameters import BEND_REACH, CountScale

Floats = npt.NDArray[np.floating]
Weights = Sequence[float] | Sequence[Floats]
FloatT = TypeVar("FloatT", bound=np.floating)

# Beyond this the level is certain to 1e-4, and exp(4 * 12) still fits 32-bit floats.
_FAR = 12.0
# Beyond this logit a fault share is nothing or all, and the logarithm of neither is infinite.
_SURE = 30.0
LARGEST_DISPERSION = 0.5
_LEVELS = np.arange(TOP_LEVEL + 1.0)


def category_weights(thresholds: Sequence[float]) -> npt.NDArray[np.float64]:
    """exp(-(tau_1 + ... + tau_j)) for j = 0..4."""
    return np.asarray(np.exp(-np.concatenate([[0.0], np.cumsum(thresholds)])))


def level_sums(eta: npt.NDArray[FloatT], weights: Weights) -> tuple[npt.NDArray[FloatT], ...]:
    """(sum w_j t^j, sum j w_j t^j, sum j^2 w_j t^j) with t = exp(eta), shaped as `eta`.

    A weight is one number, or one for each of the last axis of `eta`.
    """
    t = np.exp(np.clip(eta, -_FAR, _FAR))
    sums = []
    for power in range(3):
        total = t * (TOP_LEVEL**power * weights[TOP_LEVEL])
        for level in range(TOP_LEVEL - 1, 0, -1):
            total += level**power * weights[level]
            total *= t
        sums.append(total)
    sums[0] += weights[0]
    return tuple(sums)


def level_moments(
    eta: npt.NDArray[FloatT], weights: Weights
) -> tuple[npt.NDArray[FloatT], npt.NDArray[FloatT]]:
    """Mean (levels 0..4) and variance of the level at `eta` logits; the variance is also the information."""
    whole, first, second = level_sums(eta, weights)
    mean = first / whole
    return mean, second / whole - mean * mean


def level_moments_of_few(
    eta: npt.NDArray[np.float64], weighted: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """As `level_moments` in fewer, larger steps, for one set; `weighted` from `weighted_powers`, one for all
    or one for each of `eta`."""
    odds = np.exp(eta[:, None] * _LEVELS)
    sums = odds @ weighted if weighted.ndim == 2 else np.einsum("nj,njp->np", odds, weighted)
    whole, first, second = sums.T
    mean = first / whole
    return mean, second / whole - mean * mean


def weighted_powers(weights: Sequence[float]) -> npt.NDArray[np.float64]:
    """(5, 3): weight of each level times the level to the power 0, 1, 2."""
    return np.asarray(weights)[:, None] * _LEVELS[:, None] ** np.arange(3)


def level_chances(eta: npt.ArrayLike, weights: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """P(level = 0..4), on a new last axis."""
    levels = np.arange(TOP_LEVEL + 1)
    odds = weights * np.exp(np.clip(np.asarray(eta, dtype=float), -_FAR, _FAR)[..., None] * levels)
    return np.asarray(odds / odds.sum(axis=-1, keepdims=True))


@dataclass(frozen=True, slots=True)
class CountScales:
    """The figures of several CountScale side by side, shaped to go with `eta`."""

    base: Floats
    slope: Floats
    bend: Floats
    dispersion: Floats
    rise: Floats

    def turned(self, turn: Callable[[Floats], Floats]) -> "CountScales":
        """Each figure's column by `turn`."""
        columns = (self.base, self.slope, self.bend, self.dispersion, self.rise)
        return CountScales(*map(turn, columns))


def fault_curve(eta: Floats, scale: CountScale | CountScales) -> tuple[Floats, Floats]:
    """(share, steepness) at `eta` logits: expected share of faulty fans, and how fast its logit falls."""
    reach = np.sqrt(eta * eta + BEND_REACH**2)
    logit = scale.base - scale.slope * eta - scale.bend * reach
    share = 1 / (1 + np.exp(np.clip(-logit, -_SURE, _SURE)))
    return share, scale.slope + scale.bend * eta / reach


def excess(share: Floats, inspected: Floats, scale: CountScale | CountScales) -> Floats:
    """How many times as large the variance of a count is as without clustering."""
    return 1 + (scale.dispersion + scale.rise * share) * np.maximum(inspected - 1, 0)


def count_news(eta: Floats, faults: Floats, inspected: Floats, scales: CountScales) -> tuple[Floats, Floats]:
    """(score, information) about ability of each count: McCullagh and Nelder, chapter 9."""
    share, steepness = fault_curve(eta, scales)
    expected, weight = inspected * share, steepness / excess(share, inspected, scales)
    return weight * (expected - faults), weight * steepness * expected * (1 - share)


def count_chance(eta: Floats, faults: Floats, inspected: Floats, scales: CountScales) -> Floats:
    """Log quasi-likelihood of each count, up to a constant: the integral over the share p of
    (k - n p) / (p (1 - p) (a + b p)), with a + b p the excess of the variance."""
    share, _ = fault_curve(eta, scales)
    least, most = (excess(np.full_like(share, end), inspected, scales) for end in (0, 1))
    found, clean = faults / least, (inspected - faults) / most
    spread = np.log(excess(share, inspected, scales))
    return np.asarray(found * np.log(share) + clean * np.log1p(-share) - (found + clean) * spread)


def fault_share(eta: npt.ArrayLike, scale: CountScale) -> npt.NDArray[np.float64]:
    """Expected share of faulty fans, 0..1; it falls as ability rises."""
    return np.asarray(fault_curve(np.asarray(eta, dtype=float), scale)[0])


def count_scale_from_bands(
    at_most: Sequence[int], per: int, thresholds: Sequence[float], dispersion: float = 0.02
) -> CountScale:
    """A counted criterion before there are data: the straight line that best joins its bands to the levels.

    `at_most`: most faults of `per` fans for level 4, 3, 2, 1. Where the expected level is j + 1/2 the fault
    share should lie half a fault above the limit of level j + 1.
    """
    limits = np.asarray(at_most, dtype=float)[::-1]
    shares = sp.special.logit(np.clip((limits + 0.5) / per, 0.001, 0.999))
    etas = ability_at(np.arange(TOP_LEVEL) + 0.5, thresholds)
    slope, base = np.polyfit(etas, shares, 1)
    return CountScale(float(base), max(0.2, float(-slope)), dispersion, tuple(at_most), per)


def band_level(eta: npt.ArrayLike, scale: CountScale) -> npt.NDArray[np.float64]:
    """Expected level, 0..4, that `scale`'s bands give to counts at `eta` logits; beta-binomial.

    P(k of n) = choose(n, k) B(k + a, n - k + b) / B(a, b), a = p w, b = (1 - p) w,
    w = 1 / dispersion - 1: J. G. Skellam, J. R. Stat. Soc. B 10 (1948) 257-261.
    """
    share = fault_share(eta, scale)[..., None]
    whole = 1 / np.clip(scale.dispersion + scale.rise * share, 1e-6, LARGEST_DISPERSION) - 1
    faulty, clean = share * whole, (1 - share) * whole
    faults = np.arange(max(scale.at_most) + 1)
    ways = -sp.special.betaln(faults + 1, scale.per - faults + 1) - np.log(scale.per + 1)
    chance = np.exp(
        ways
        + sp.special.betaln(faults + faulty, scale.per - faults + clean)
        - sp.special.betaln(faulty, clean)
    )
    return np.asarray(chance.cumsum(axis=-1)[..., list(scale.at_most)].sum(axis=-1))


def ability_at(levels: npt.ArrayLike, thresholds: Sequence[float]) -> npt.NDArray[np.float64]:
    """The logits at which the expected level is `levels`; by bisection, cut at 12 logits either way."""
    wanted = np.asarray(levels, dtype=float)
    weights = category_weights(thresholds)
    low, high = np.full(wanted.shape, -_FAR), np.full(wanted.shape, _FAR)
    for _ in range(50):
        middle = (low + high) / 2
        too_low = level_moments(middle, weights.tolist())[0] < wanted
        low, high = np.where(too_low, middle, low), np.where(too_low, high, middle)
    return np.asarray((low + high) / 2)
