"""How often two or more educators give the same level to the same work, beyond what chance would give."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
import numpy.typing as npt
import scipy as sp  # loads `special` at first use

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.wording import counted, percent

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

LEVELS = (0, 1, 2, 3, 4)
FEW_DOUBLE_MARKED = 10

NO_DATA, INDICATIVE, UNDEFINED, UNEQUAL, OK = "no_data", "indicative", "undefined", "unequal", "ok"

_POWERS = {"unweighted": 0, "linear": 1, "quadratic": 2}


@dataclass(frozen=True, slots=True)
class Kappa:
    """Agreement of two educators; every figure is None when it has no meaning for these marks.

    `same`, `within_one`: shares 0..1 of marks with equal levels, and at most one level apart. `error`:
    standard error, for the interval `low`..`high`. `chance_error`: the one to test kappa = 0 with.
    """

    marks: int
    confidence: float
    status: str
    words: str
    same: float | None = None
    within_one: float | None = None
    kappa: float | None = None
    error: float | None = None
    chance_error: float | None = None
    low: float | None = None
    high: float | None = None


def cohen_kappa(
    first: Sequence[int],
    second: Sequence[int],
    *,
    weights: str = "quadratic",
    levels: Sequence[int] = LEVELS,
    confidence: float = 0.90,
) -> Kappa:
    """Cohen's kappa of two equally long lists of levels, one entry a set, for one criterion.

    `weights`: unweighted, linear or quadratic in the distance of two levels. Standard errors: J. L. Fleiss,
    J. Cohen and B. S. Everitt, Psychological Bulletin 72 (1969) 323-327. Raises ScoringInputError for a level
    that is not in `levels`, lists of different length or an unknown weighting.
    """
    _check_confidence(confidence)
    shares, close = _shared_table(first, second, levels)
    marks = len(first)
    if marks == 0:
        words = "No set has marks from both educators yet. Ask for a second mark."
        return Kappa(0, confidence, NO_DATA, words)
    same, within_one = float(np.trace(shares)), float(shares[close].sum())
    found = _weighted_kappa(shares, _credits(len(levels), weights), marks)
    words = _kappa_words(marks, same, within_one)
    if found is None:
        words += f" Both educators used a single level; kappa is undefined (raw agreement {percent(same)})."
        return Kappa(marks, confidence, UNDEFINED, words, same, within_one)
    low, high = _limits(*found[:2], confidence)
    words += _beyond_chance(found[0], low, high, confidence) + few_words(marks)
    status = INDICATIVE if marks < FEW_DOUBLE_MARKED else OK
    return Kappa(marks, confidence, status, words, same, within_one, *found, low, high)


@dataclass(frozen=True, slots=True)
class FleissKappa:
    """Agreement of several educators; `by_level` has one kappa a column, None for a level never given.

    `error`: delete-one-set jackknife, for the interval. `chance_error`: to test kappa = 0 with.
    """

    sets: int
    confidence: float
    status: str
    words: str
    same: float | None = None
    kappa: float | None = None
    by_level: tuple[float | None, ...] = ()
    error: float | None = None
    chance_error: float | None = None
    low: float | None = None
    high: float | None = None


def fleiss_kappa(counts: npt.ArrayLike, *, confidence: float = 0.90) -> FleissKappa:
    """Fleiss' kappa; `counts[set, level]` = how many educators gave that level to that set.

    Sets with fewer than two marks are left out; unequal numbers of marks give status `unequal`, for which
    Krippendorff's alpha is the figure to use. J. L. Fleiss, Psychological Bulletin 76 (1971) 378-382;
    `chance_error`: J. L. Fleiss, J. C. M. Nee and J. R. Landis, Psychological Bulletin 86 (1979) 974-977.
    """
    _check_confidence(confidence)
    table = _count_table(counts)
    raters = table.sum(axis=1)
    sets = len(table)
    if sets == 0:
        words = "No set has two marks yet. Ask for second marks."
        return FleissKappa(0, confidence, NO_DATA, words)
    if np.ptp(raters) > 0:
        words = "Sets have different numbers of marks; use alpha, which allows that."
        return FleissKappa(sets, confidence, UNEQUAL, words)
    return _fleiss(table, int(raters[0]), confidence)


def few_words(sets: int) -> str:
    """The reservation to put behind a figure from few double-marked sets, after a space, or nothing."""
    if sets >= FEW_DOUBLE_MARKED:
        return ""
    return f" Too few double-marked sets ({sets}); agreement is only indicative."


def _shared_table(
    first: Sequence[int], second: Sequence[int], levels: Sequence[int]
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Shares of marks by (first, second) level, and which cells lie at most one level apart."""
    if len(first) != len(second):
        raise ScoringInputError(
            "marks_of_different_length",
            f"{len(first)} marks against {len(second)}. Give one mark of each educator for every set.",
        )
    places = {level: place for place, level in enumerate(levels)}
    for level in (*first, *second):
        if level not in places:
            raise ScoringInputError(
                "level_out_of_range",
                f"Level {level} is not on the scale. Give one of {', '.join(map(str, levels))}.",
            )
    table = np.zeros((len(levels), len(levels)))
    np.add.at(table, ([places[level] for level in first], [places[level] for level in second]), 1.0)
    scale = np.asarray(levels)
    return table / max(len(first), 1), np.abs(scale[:, None] - scale) <= 1


def _credits(size: int, weights: str) -> FloatArray:
    """Credit 0..1 for each pair of levels: 1 for equal ones."""
    if weights not in _POWERS:
        raise ScoringInputError(
            "unknown_weights", f"Weights {weights!r} are not known. Choose {', '.join(_POWERS)}."
        )
    apart = np.abs(np.subtract.outer(np.arange(size), np.arange(size)))
    if weights == "unweighted":
        return np.asarray(apart == 0, dtype=float)
    return np.asarray(1 - (apart / max(size - 1, 1)) ** _POWERS[weights])


def _weighted_kappa(shares: FloatArray, credit: FloatArray, marks: int) -> tuple[float, float, float] | None:
    """(kappa, standard error, standard error if kappa were 0), or None when chance alone agrees fully."""
    rows, columns = shares.sum(axis=1), shares.sum(axis=0)
    by_chance = np.outer(rows, columns)
    observed, expected = float((credit * shares).sum()), float((credit * by_chance).sum())
    if expected > 1 - 1e-12:
        return None
    kappa = (observed - expected) / (1 - expected)
    mean_credit = np.add.outer(credit @ columns, credit.T @ rows)
    spread = (shares * (credit - mean_credit * (1 - kappa)) ** 2).sum() - (
        kappa - expected * (1 - kappa)
    ) ** 2
    chance_spread = (by_chance * (credit - mean_credit) ** 2).sum() - expected**2
    scale = sqrt(marks) * (1 - expected)
    return kappa, sqrt(max(spread, 0.0)) / scale, sqrt(max(chance_spread, 0.0)) / scale


def _count_table(counts: npt.ArrayLike) -> FloatArray:
    table = np.asarray(counts, dtype=float)
    if table.ndim != 2:
        raise ScoringInputError("not_a_table", "Give one row a set and one column a level.")
    if not np.all(np.isfinite(table)) or np.any(table < 0):
        raise ScoringInputError("negative_count", "A count of marks cannot be below zero. Check the table.")
    return np.asarray(table[table.sum(axis=1) >= 2])


def _fleiss(table: FloatArray, raters: int, confidence: float) -> FleissKappa:
    sets = len(table)
    alike = ((table**2).sum(axis=1) - raters) / (raters * (raters - 1))
    same, shares = float(alike.mean()), table.mean(axis=0) / raters
    words = f"Any two educators gave the same level to the same set {percent(same)} of the time."
    if (shares**2).sum() > 1 - 1e-12:
        words += f" All used a single level; kappa is undefined (raw agreement {percent(same)})."
        return FleissKappa(sets, confidence, UNDEFINED, words, same)
    kappa = float(_chance_corrected(alike.mean(), shares))
    error = _jackknife_error(alike, table / raters)
    low, high = _limits(kappa, error, confidence) if error is not None else (None, None)
    if low is not None and high is not None:
        words += _beyond_chance(kappa, low, high, confidence)
    return FleissKappa(
        sets=sets,
        same=same,
        kappa=kappa,
        by_level=_kappa_by_level(table, raters, shares),
        error=error,
        chance_error=_chance_error(shares, sets, raters),
        low=low,
        high=high,
        confidence=confidence,
        status=INDICATIVE if sets < FEW_DOUBLE_MARKED else OK,
        words=words + few_words(sets),
    )


def _chance_corrected(alike: FloatArray | float, shares: FloatArray) -> FloatArray:
    expected = (shares**2).sum(axis=-1)
    return np.asarray((alike - expected) / np.where(expected < 1 - 1e-12, 1 - expected, np.nan))


def _jackknife_error(alike: FloatArray, shares: FloatArray) -> float | None:
    """Delete-one-set standard error; None with one set, or if one set decides whether kappa exists."""
    sets = len(alike)
    if sets < 2:
        return None
    without = _chance_corrected(
        (alike.sum() - alike) / (sets - 1), (shares.sum(axis=0) - shares) / (sets - 1)
    )
    error = sqrt((sets - 1) / sets) * float(np.linalg.norm(without - without.mean()))
    return error if np.isfinite(error) else None


def _kappa_by_level(table: FloatArray, raters: int, shares: FloatArray) -> tuple[float | None, ...]:
    apart = (table * (raters - table)).sum(axis=0)
    chance = len(table) * raters * (raters - 1) * shares * (1 - shares)
    return tuple(1 - float(a / c) if c > 0 else None for a, c in zip(apart, chance, strict=True))


def _chance_error(shares: FloatArray, sets: int, raters: int) -> float:
    mixed = shares * (1 - shares)
    spread = mixed.sum() ** 2 - (mixed * (1 - 2 * shares)).sum()
    return sqrt(2 / (sets * raters * (raters - 1)) * spread) / float(mixed.sum())


def _limits(kappa: float, error: float, confidence: float) -> tuple[float, float]:
    half = float(sp.special.ndtri((1 + confidence) / 2)) * error
    return max(-1.0, kappa - half), min(1.0, kappa + half)


def _kappa_words(marks: int, same: float, within_one: float) -> str:
    return (
        f"On {counted(marks, 'double-marked set')} the two educators gave the same level {percent(same)} "
        f"of the time, and were at most one level apart {percent(within_one)} of the time."
    )


def _beyond_chance(kappa: float, low: float, high: float, confidence: float) -> str:
    return (
        f" Agreement beyond chance is {kappa:.2f} of 1 "
        f"({100 * confidence:g} % interval {low:.2f} to {high:.2f})."
    )


def _check_confidence(confidence: float) -> None:
    if not 0 < confidence < 1:
        raise ScoringInputError(
            "confidence_out_of_range", f"The confidence is {confidence:g}. Give a share between 0 and 1."
        )
