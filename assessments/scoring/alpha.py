"""Krippendorff's alpha: agreement of any number of educators, with marks missing, as one figure."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assessments.scoring.agreement import (
    FEW_DOUBLE_MARKED,
    INDICATIVE,
    NO_DATA,
    OK,
    UNDEFINED,
    FloatArray,
    few_words,
)
from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.wording import counted, percent

MEASURES = ("nominal", "ordinal", "interval", "ratio")
_NO_DISAGREEMENT = 1e-12


@dataclass(frozen=True, slots=True)
class Alpha:
    """`units`: sets with at least two marks. `same`, `within_one`: shares 0..1 of pairs of marks on one set.

    `low`..`high`: percentile bootstrap over sets; None without `rng`, or when too many draws have no value.
    """

    units: int
    confidence: float
    status: str
    words: str
    same: float | None = None
    within_one: float | None = None
    alpha: float | None = None
    low: float | None = None
    high: float | None = None


def krippendorff_alpha(
    ratings: npt.ArrayLike,
    *,
    measure: str = "ordinal",
    rng: np.random.Generator | None = None,
    draws: int = 1000,
    confidence: float = 0.90,
) -> Alpha:
    """Alpha of `ratings[educator, set]`, levels, with nan for a missing mark; compute it for one criterion.

    Sets with fewer than two marks are ignored. `measure`: how far two levels are apart: nominal, ordinal,
    interval or ratio. K. Krippendorff, Content Analysis, chapter on reliability; the coincidence-matrix form.
    Raises ScoringInputError for an unknown measure or a level that is not a number.
    """
    table = _checked(ratings, measure, confidence)
    levels = np.unique(table[~np.isnan(table)])
    pairs = _coincidences(table, levels)
    units = len(pairs)
    if units == 0:
        return Alpha(0, confidence, NO_DATA, "No set has two marks yet. Ask for second marks.")
    same, within_one = _raw_agreement(pairs.sum(axis=0), levels)
    alpha = float(_alphas(pairs.sum(axis=0, keepdims=True), levels, measure)[0])
    raw = _raw_words(units, same, within_one)
    if np.isnan(alpha):
        words = f"{raw} All used a single level; alpha is undefined (raw agreement {percent(same)})."
        return Alpha(units, confidence, UNDEFINED, words, same, within_one)
    low, high = _bootstrap(pairs, levels, measure, rng, (draws, confidence)) if rng else (None, None)
    words = raw + _alpha_words(alpha, low, high, confidence) + few_words(units)
    status = INDICATIVE if units < FEW_DOUBLE_MARKED else OK
    return Alpha(units, confidence, status, words, same, within_one, alpha, low, high)


def _checked(ratings: npt.ArrayLike, measure: str, confidence: float) -> FloatArray:
    table = np.asarray(ratings, dtype=float)
    if measure not in MEASURES:
        raise ScoringInputError(
            "unknown_measure", f"The measure {measure!r} is not known. Choose {', '.join(MEASURES)}."
        )
    if table.ndim != 2:
        raise ScoringInputError("not_a_table", "Give one row an educator and one column a set.")
    if np.isinf(table).any():
        raise ScoringInputError("bad_level", "A mark is not a number. Correct it, or leave it out.")
    if measure == "ratio" and np.any(table < 0):
        raise ScoringInputError("negative_level", "A ratio measure needs levels of 0 or more.")
    if not 0 < confidence < 1:
        raise ScoringInputError("confidence_out_of_range", "Give a confidence between 0 and 1.")
    return table


def _coincidences(table: FloatArray, levels: FloatArray) -> FloatArray:
    """[set, level, level] pairs of marks, each set weighted so that it adds up to its number of marks."""
    counts = (table.T[:, :, None] == levels).sum(axis=1).astype(float)
    counts = counts[counts.sum(axis=1) >= 2]
    pairs = counts[:, :, None] * counts[:, None, :]
    place = np.arange(levels.size)
    pairs[:, place, place] -= counts
    return np.asarray(pairs / (counts.sum(axis=1) - 1)[:, None, None])


def _alphas(pairs: FloatArray, levels: FloatArray, measure: str) -> FloatArray:
    """Alpha for each coincidence matrix of a stack; nan where only one level occurs."""
    used = pairs.sum(axis=2)
    marks = used.sum(axis=1)
    apart = _squared_distances(used, levels, measure)
    observed = (pairs * apart).sum(axis=(1, 2))
    expected = (used[:, :, None] * used[:, None, :] * apart).sum(axis=(1, 2))
    known = expected > _NO_DISAGREEMENT
    disagreement = (marks - 1) * observed / np.where(known, expected, 1.0)
    return np.where(known, 1 - disagreement, np.nan)


def _squared_distances(used: FloatArray, levels: FloatArray, measure: str) -> FloatArray:
    if measure == "nominal":
        return 1.0 - np.eye(levels.size)[None]
    # The ordinal distance of two levels is the number of marks between their middles.
    scale = np.cumsum(used, axis=1) - used / 2 if measure == "ordinal" else levels[None]
    apart = scale[:, :, None] - scale[:, None, :]
    if measure == "ratio":
        total = levels[:, None] + levels
        apart = apart / np.where(total > 0, total, 1.0)
    return np.asarray(apart**2)


def _bootstrap(
    pairs: FloatArray,
    levels: FloatArray,
    measure: str,
    rng: np.random.Generator,
    size: tuple[int, float],
) -> tuple[float, float] | tuple[None, None]:
    """Percentile limits over sets drawn with replacement: one multinomial table times the stack of pairs."""
    draws, confidence = size
    units, values = len(pairs), levels.size
    times = rng.multinomial(units, np.full(units, 1 / units), size=draws).astype(float)
    drawn = (times @ pairs.reshape(units, -1)).reshape(draws, values, values)
    alphas = _alphas(drawn, levels, measure)
    known = alphas[~np.isnan(alphas)]
    if known.size < max(draws / 2, 1) or units < 2:
        return None, None
    tail = (1 - confidence) / 2
    low, high = np.quantile(known, [tail, 1 - tail])
    return float(low), float(high)


def _raw_agreement(total: FloatArray, levels: FloatArray) -> tuple[float, float]:
    marks = total.sum()
    close = np.abs(levels[:, None] - levels) <= 1
    return float(np.trace(total) / marks), float(total[close].sum() / marks)


def _raw_words(units: int, same: float, within_one: float) -> str:
    return (
        f"On {counted(units, 'double-marked set')} two educators gave the same level {percent(same)} of the "
        f"time, and were at most one level apart {percent(within_one)} of the time."
    )


def _alpha_words(alpha: float, low: float | None, high: float | None, confidence: float) -> str:
    interval = "" if low is None else f" ({100 * confidence:g} % interval {low:.2f} to {high:.2f})"
    return f" Agreement beyond chance is {alpha:.2f} of 1{interval}."
