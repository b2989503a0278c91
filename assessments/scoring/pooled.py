"""One fault rate from several sets of one student, whose fans resemble each other within a set."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.proportions import score_limits

NO_DATA, OK = "no_data", "ok"


@dataclass(frozen=True, slots=True)
class PooledRate:
    """Shares 0..1; `rate` is None with nothing inspected. `dispersion`: variance against independent fans."""

    faults: int
    inspected: int
    sets: int
    rate: float | None
    low: float
    high: float
    dispersion: float
    confidence: float
    status: str
    words: str


def pooled_defect_rate(
    faults: Sequence[int],
    inspected: Sequence[int],
    *,
    confidence: float = 0.95,
    likeness: float = 0.05,
    weight: float = 6.0,
) -> PooledRate:
    """Pooled rate with a Wilson interval at the effective number of fans.

    The dispersion is Pearson's statistic over its degrees of freedom, drawn towards 1 + `likeness` (mean fans
    - 1), the beta-binomial value, as if that had been seen on `weight` sets; never below 1. With one set, or
    all fans alike, it is that value. Raises ScoringInputError for counts that cannot be.
    """
    k, n = _counts(faults, inspected)
    if not 0 < confidence < 1:
        raise ScoringInputError("confidence_out_of_range", "Give a confidence between 0 and 100 %.")
    total, found, sets = int(n.sum()), int(k.sum()), int(n.size)
    if total == 0:
        return PooledRate(0, 0, 0, None, 0.0, 1.0, 1.0, confidence, NO_DATA, "No fans inspected yet.")
    rate, dispersion = found / total, _dispersion(k, n, likeness, weight)
    low, high = score_limits(rate, total / dispersion, confidence)
    words = (
        f"{found} of {total} fans in {sets} {'set' if sets == 1 else 'sets'}: {100 * rate:.1f} %, "
        f"{100 * confidence:g} % interval {100 * low:.1f}–{100 * high:.1f} %."
    )
    return PooledRate(found, total, sets, rate, low, high, dispersion, confidence, OK, words)


def _dispersion(
    k: npt.NDArray[np.float64], n: npt.NDArray[np.float64], likeness: float, weight: float
) -> float:
    expected, rate = 1 + likeness * (float(n.mean()) - 1), float(k.sum() / n.sum())
    if n.size == 1 or rate in (0.0, 1.0):
        return max(1.0, expected)
    freedom = n.size - 1
    pearson = float(((k - n * rate) ** 2 / (n * rate * (1 - rate))).sum())
    return max(1.0, (pearson + weight * expected) / (freedom + weight))


def _counts(
    faults: Sequence[int], inspected: Sequence[int]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Counts as arrays, sets without an inspected fan left out."""
    if len(faults) != len(inspected):
        raise ScoringInputError(
            "counts_of_different_length", "Each set needs both its faults and its inspected fans."
        )
    k, n = np.asarray(faults, dtype=float), np.asarray(inspected, dtype=float)
    if np.any(k < 0) or np.any(n < 0):
        raise ScoringInputError("negative_count", "A count cannot be below zero. Check the ticks.")
    for found, looked_at in zip(faults, inspected, strict=True):
        if found > looked_at:
            raise ScoringInputError(
                "faults_exceed_inspected",
                f"{found} faults recorded but only {looked_at} fans inspected. Check the ticks.",
            )
    return k[n > 0], n[n > 0]
