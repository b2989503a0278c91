"""How sure a fault rate is: score and exact binomial limits for `faults` found in `inspected` fans."""

from dataclasses import dataclass
from math import sqrt

import scipy as sp  # loads `special` at first use

from assessments.scoring.evidence import ScoringInputError


@dataclass(frozen=True, slots=True)
class Proportion:
    """A fault rate with its two-sided interval, all as shares 0..1; `rate` is None with nothing inspected."""

    faults: int
    inspected: int
    rate: float | None
    low: float
    high: float
    confidence: float


def wilson_interval(faults: int, inspected: int, *, confidence: float = 0.90) -> Proportion:
    """Score interval without continuity correction.

    E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212. The ends are exactly 0 with no fault and exactly 1
    with all faulty. Raises ScoringInputError for counts or a confidence that cannot be.
    """
    _check(faults, inspected, confidence)
    if inspected == 0:
        return Proportion(faults, inspected, None, 0.0, 1.0, confidence)
    rate = faults / inspected
    return Proportion(faults, inspected, rate, *score_limits(rate, inspected, confidence), confidence)


def score_limits(rate: float, inspected: float, confidence: float) -> tuple[float, float]:
    """Wilson's limits for a rate, 0..1, seen in `inspected` fans, or in fewer effective ones."""
    z = float(sp.special.ndtri((1 + confidence) / 2))
    shrink = 1 + z * z / inspected
    centre = (rate + z * z / (2 * inspected)) / shrink
    half = z / shrink * sqrt(rate * (1 - rate) / inspected + (z / (2 * inspected)) ** 2)
    low = 0.0 if rate == 0 else max(0.0, centre - half)
    high = 1.0 if rate == 1 else min(1.0, centre + half)
    return low, high


def exact_interval(faults: int, inspected: int, *, confidence: float = 0.90) -> Proportion:
    """Exact binomial interval with at most (1 - confidence)/2 in each tail; wider than Wilson's.

    C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404-413. Raises as wilson_interval does.
    """
    _check(faults, inspected, confidence)
    if inspected == 0:
        return Proportion(faults, inspected, None, 0.0, 1.0, confidence)
    tail = (1 - confidence) / 2
    low = 0.0 if faults == 0 else float(sp.special.betaincinv(faults, inspected - faults + 1, tail))
    high = exact_upper_limit(faults, inspected, confidence=1 - tail)
    return Proportion(faults, inspected, faults / inspected, low, high, confidence)


def exact_upper_limit(faults: int, inspected: int, *, confidence: float = 0.95) -> float:
    """The one-sided Clopper-Pearson upper limit, 0..1; 1 with nothing inspected. Raises as the others do."""
    _check(faults, inspected, confidence)
    if faults == inspected:
        return 1.0
    return float(sp.special.betaincinv(faults + 1, inspected - faults, confidence))


def _check(faults: int, inspected: int, confidence: float) -> None:
    if faults < 0 or inspected < 0:
        raise ScoringInputError(
            "negative_count",
            f"{faults} faults in {inspected} fans: a count cannot be below zero. Check the ticks.",
        )
    if faults > inspected:
        raise ScoringInputError(
            "faults_exceed_inspected",
            f"{faults} {'fault' if faults == 1 else 'faults'} recorded but only {inspected} "
            f"{'fan' if inspected == 1 else 'fans'} inspected. Check the ticks.",
        )
    if not 0 < confidence < 1:
        raise ScoringInputError(
            "confidence_out_of_range", f"The confidence is {confidence:g}. Give a share between 0 and 1."
        )
