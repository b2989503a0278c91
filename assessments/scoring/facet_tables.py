"""Marks of several educators on the same sets, counted into the few tables that the facet model needs."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assessments.scoring.evidence import ScoringInputError

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_BITS = 52  # sums of this many different powers of two are exact in a float
_ROOM = 8  # cells of a full table worth having for each mark
_FARTHEST = 40.0  # logits; nothing is to be seen beyond, and four times this does not overflow


@dataclass(frozen=True, slots=True)
class Tables:
    """Sets with the same marks present and the same sum of levels form a group; a pair is one group's marks
    by one educator on one criterion.

    By group: `times` (sets in it), `share` (sum of levels over the most possible). By pair: `group`,
    `educator`, `criterion`, `counts[level, pair]`, `total` of levels and `weight` (its group's `times`).
    `reached[h - 1]`: marks of level h or more. `work_group[work]`: the group of each set.
    """

    work_group: IntArray
    times: FloatArray
    share: FloatArray
    group: IntArray
    educator: IntArray
    criterion: IntArray
    counts: FloatArray
    total: FloatArray
    weight: FloatArray
    reached: FloatArray


@dataclass(frozen=True, slots=True)
class Moments:
    """By place on the scale: mean, variance and `third` central moment of the level; and by [step, place]:
    `above` = chance of level h or more, its covariance with the level, and `above_third` = E[(y - Ey)^2 (1(y
    >= h) - above_h)]."""

    mean: FloatArray
    variance: FloatArray
    third: FloatArray
    above: FloatArray
    above_cov: FloatArray
    above_third: FloatArray


def gathered(
    work: IntArray, cell: IntArray, level: IntArray, *, criteria: int, cells: int, levels: int
) -> Tables:
    """Count the marks; `cell` = educator * `criteria` + criterion. Refuses a mark given twice."""
    works = int(work.max()) + 1 if work.size else 0
    pattern = _patterns(work, cell, works, cells)
    score = np.bincount(work, weights=level, minlength=works).astype(np.int64)
    present = np.bincount(work, minlength=works)
    ranked, work_group = np.unique(pattern * (int(score.max(initial=0)) + 1) + score, return_inverse=True)
    first = np.zeros(ranked.size, np.int64)
    first[work_group] = np.arange(works)
    pair, counts = _pair_counts(work_group[work] * cells + cell, level, ranked.size * cells, levels)
    group, at = np.divmod(pair, cells)
    most = np.maximum(present[first] * (levels - 1), 1)
    times = np.bincount(work_group, minlength=ranked.size).astype(float)
    return Tables(
        work_group=work_group,
        times=times,
        share=score[first] / most,
        group=group,
        educator=at // criteria,
        criterion=at % criteria,
        counts=counts,
        total=np.arange(levels) @ counts,
        weight=times[group],
        reached=_tail(counts.sum(axis=1)),
    )


def moments(place: FloatArray, steps: FloatArray) -> Moments:
    """Rating-scale model at `place` logits, with `steps` between its levels."""
    chance = chances(place, steps)
    height = np.arange(len(chance), dtype=float)
    mean = height @ chance
    apart = height[:, None] - mean
    tilted = chance * apart
    squared = tilted * apart
    variance, above = squared.sum(axis=0), _tail(chance)
    return Moments(
        mean=mean,
        variance=variance,
        third=np.einsum("ij,ij->j", squared, apart),
        above=above,
        above_cov=_tail(tilted),
        above_third=_tail(squared) - variance * above,
    )


def chances(place: FloatArray, steps: FloatArray) -> FloatArray:
    """[level, place]: chance of each level."""
    odds = np.exp(np.clip(place, -_FARTHEST, _FARTHEST))
    weights = np.empty((steps.size + 1, place.size))
    weights[0] = 1.0
    for level, step in enumerate(np.exp(-steps)):
        np.multiply(weights[level], odds * step, out=weights[level + 1])
    return np.asarray(weights / weights.sum(axis=0))


def _tail(rows: FloatArray) -> FloatArray:
    """Sums over level h and above, for h = 1 .. top."""
    sums = rows[1:].copy()
    for place in range(len(sums) - 1, 0, -1):
        sums[place - 1] += sums[place]
    return sums


def _patterns(work: IntArray, cell: IntArray, works: int, cells: int) -> IntArray:
    """A number for each set that is equal for sets with marks in the same cells."""
    pattern = np.zeros(works, np.int64)
    for start in range(0, cells, _BITS):
        part = np.flatnonzero((cell >= start) & (cell < start + _BITS)) if cells > _BITS else slice(None)
        inside, powers = work[part], 2.0 ** np.arange(_BITS)
        bits = np.bincount(inside, weights=powers[cell[part] - start], minlength=works)
        # A cell used twice carries into another bit, so fewer bits than marks are left.
        if int(np.bitwise_count(bits.astype(np.int64)).sum()) < inside.size:
            raise ScoringInputError(
                "duplicate_mark", "An educator has marked the same criterion of a set twice. Keep one mark."
            )
        _, code = np.unique(bits, return_inverse=True)
        _, pattern = np.unique(pattern * works + code, return_inverse=True)
    return pattern


def _pair_counts(key: IntArray, level: IntArray, room: int, levels: int) -> tuple[IntArray, FloatArray]:
    """The keys that occur, in order, and how often with each level."""
    if room * levels <= _ROOM * key.size + 10_000:
        table = np.bincount(key * levels + level, minlength=room * levels).reshape(room, levels)
        used = np.flatnonzero(table.any(axis=1))
        return used, np.ascontiguousarray(table[used].T, dtype=float)
    used, place = np.unique(key, return_inverse=True)
    table = np.bincount(place * levels + level, minlength=used.size * levels)
    return used, np.ascontiguousarray(table.reshape(used.size, levels).T, dtype=float)
