"""From logits to what people read: the expected level on the reference brief with an average educator."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from assessments.skill.arrays import BAND_GRID, Array, ParameterArrays
from assessments.skill.filter import Belief
from assessments.skill.interface import (
    AT_CEILING,
    FEW_SETS,
    OK,
    PROVISIONAL,
    TOP_LEVEL,
    SkillEstimate,
    no_estimate,
)
from assessments.skill.likelihood import level_moments
from assessments.skill.observations import SetRecord

Z90 = 1.6448536269514722  # 95th percentile of the normal distribution
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


def expected_level(ability: Array, skill: int, arrays: ParameterArrays) -> Array:
    """Expected level, 0..4, at `ability` logits: the mean over the skill's criteria; shaped as `ability`.

    A counted criterion has the level of its bands, when they are known.
    """
    places = arrays.of_skill(skill)
    if not len(places):
        return level_moments(np.asarray(ability), arrays.weights)[0]
    levels = [_level_of_criterion(ability, place, arrays) for place in places.tolist()]
    return np.asarray(np.mean(levels, axis=0))


def _level_of_criterion(ability: Array, place: int, arrays: ParameterArrays) -> Array:
    bands = arrays.bands.get(place)
    if bands is not None:
        return np.interp(ability, BAND_GRID, bands)
    return level_moments(np.asarray(ability) - arrays.offset[place], arrays.weights)[0]


def level_with_interval(
    mean: Array, spread: Array, skill: int, arrays: ParameterArrays
) -> tuple[Array, Array, Array]:
    """(level, low, high) for abilities N(`mean`, `spread`^2): posterior mean of the expected level, and the
    ends of the central 90 % interval of ability, each carried to the scale of levels."""
    points = mean[..., None] + spread[..., None] * _NODES
    level = expected_level(points, skill, arrays) @ _WEIGHTS
    low, high = (expected_level(mean + end * Z90 * spread, skill, arrays) for end in (-1, 1))
    return level, low, high


@dataclass(frozen=True, slots=True)
class Seen:
    """How much of a skill a student has shown: graded sets, and whether every mark was the best there is."""

    sets: int = 0
    always_top: bool = True


def seen_by_skill(records: Sequence[SetRecord], arrays: ParameterArrays) -> tuple[Seen, ...]:
    """One for each skill."""
    return list(seen_after_each_set(records, arrays))[-1]


def seen_after_each_set(records: Iterable[SetRecord], arrays: ParameterArrays) -> Iterator[tuple[Seen, ...]]:
    """One for each skill, before the first set and after each."""
    nothing = (Seen(),) * arrays.size
    return accumulate(records, lambda seen, record: _seen_with(seen, record, arrays), initial=nothing)


def _seen_with(seen: tuple[Seen, ...], record: SetRecord, arrays: ParameterArrays) -> tuple[Seen, ...]:
    tops: dict[int, bool] = {}
    for skill, top in _marks(record, arrays):
        tops[skill] = tops.get(skill, True) and top
    more = list(seen)
    for skill, top in tops.items():
        more[skill] = Seen(seen[skill].sets + 1, seen[skill].always_top and top)
    return tuple(more)


def _marks(record: SetRecord, arrays: ParameterArrays) -> Iterator[tuple[int, bool]]:
    """(skill, whether it was the best mark possible) of every mark that is used."""
    for grading in record.gradings:
        counted = {code: faults for code, (faults, inspected) in grading.counts.items() if inspected}
        for code, faults in counted.items():
            yield int(arrays.skill_of[arrays.criterion_index[code]]), faults == 0
        for code, level in grading.levels.items():
            if code not in counted:
                yield int(arrays.skill_of[arrays.criterion_index[code]]), level == TOP_LEVEL


def estimates(belief: Belief, arrays: ParameterArrays, seen: Sequence[Seen]) -> tuple[SkillEstimate, ...]:
    """One for each skill, in levels 0..4; a skill never marked has no figure, though others hint at it."""
    spread = np.sqrt(np.diag(belief.spread()))
    return tuple(
        _estimate(belief.mean[skill], spread[skill], skill, arrays, seen[skill])
        for skill in range(arrays.size)
    )


def _estimate(mean: Array, spread: Array, skill: int, arrays: ParameterArrays, seen: Seen) -> SkillEstimate:
    code = arrays.skills[skill]
    if seen.sets == 0:
        return no_estimate(code)
    level, low, high = (float(value) for value in level_with_interval(mean, spread, skill, arrays))
    status = _status(seen)
    return SkillEstimate(
        code, level, low, high, seen.sets, status, _words(level, low, high, seen.sets, status)
    )


def _status(seen: Seen) -> str:
    if seen.sets < FEW_SETS:
        return PROVISIONAL
    return AT_CEILING if seen.always_top else OK


def _words(level: float, low: float, high: float, sets: int, status: str) -> str:
    graded = "1 graded set" if sets == 1 else f"{sets} graded sets"
    figure = f"About {level:.1f} of 4, with 90 % confidence between {low:.1f} and {high:.1f}, from {graded}"
    if status == PROVISIONAL:
        return f"{figure}; provisional, because fewer than {FEW_SETS} sets are graded."
    if status == AT_CEILING:
        return (
            f"{figure}; every mark is the best possible, so they cannot show how much higher the skill goes."
        )
    return f"{figure}."
