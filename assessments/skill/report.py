"""From logits to what people read: the expected level on the reference brief with an average educator."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from assessments.skill.arrays import CURVE_END, CURVE_STEPS, Array, Index, ParameterArrays
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
from assessments.skill.observations import SetRecord

Z90 = 1.6448536269514722  # 95th percentile of the normal distribution
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
_POINTS = np.append(_NODES, [-Z90, Z90])


def expected_level(ability: Array, skill: int | Index, arrays: ParameterArrays) -> Array:
    """Expected level, 0..4, at `ability` logits: the mean over the skill's criteria; shaped as `ability`.

    With several skills, the first axis of `ability` is theirs.
    """
    at = np.clip((ability + CURVE_END) * CURVE_STEPS, 0, arrays.curves.shape[1] - 1 - 1e-9)
    below = at.astype(np.intp)
    rows = np.reshape(skill, (-1,) + (1,) * (at.ndim - 1)) if np.ndim(skill) else skill
    low = arrays.curves[rows, below]
    return np.asarray(low + (at - below) * (arrays.curves[rows, below + 1] - low))


def level_with_interval(
    mean: Array, spread: Array, skill: int | Index, arrays: ParameterArrays
) -> tuple[Array, Array, Array]:
    """(level, low, high) for abilities N(`mean`, `spread`^2): posterior mean of the expected level, and the
    ends of the central 90 % interval of ability, each carried to the scale of levels. With several skills,
    the first axis of `mean` is theirs."""
    levels = expected_level(mean[..., None] + spread[..., None] * _POINTS, skill, arrays)
    return levels[..., :-2] @ _WEIGHTS, levels[..., -2], levels[..., -1]


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
            yield arrays.skill_by_code[code], faults == 0
        for code, level in grading.levels.items():
            if code not in counted:
                yield arrays.skill_by_code[code], level == TOP_LEVEL


def estimates(belief: Belief, arrays: ParameterArrays, seen: Sequence[Seen]) -> tuple[SkillEstimate, ...]:
    """One for each skill, in levels 0..4; a skill never marked has no figure, though others hint at it."""
    spread = np.sqrt(np.diag(belief.spread()))
    found = level_with_interval(belief.mean[: arrays.size], spread, np.arange(arrays.size), arrays)
    figures = np.array(found).T.tolist()
    return tuple(map(_estimate, arrays.skills, figures, seen))


def _estimate(code: str, figures: Sequence[float], seen: Seen) -> SkillEstimate:
    if seen.sets == 0:
        return no_estimate(code)
    level, low, high = figures
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
