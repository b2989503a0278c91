"""What is expected of a skill that is not practised; a guide, since nobody has measured lash work."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy as sp  # loads `special` at first use

from assessments.skill.arrays import CURVE_END, Array, ParameterArrays
from assessments.skill.filter import Belief
from assessments.skill.report import level_with_interval
from assessments.skill.weakest import SkillTarget


@dataclass(frozen=True, slots=True)
class Fading:
    """One skill on each of the days `ahead`: expected level with its 90 % interval, levels 0..4, and the
    chance that the true level is below the target."""

    target: SkillTarget
    ahead: tuple[float, ...]
    level: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    chance_below: tuple[float, ...]

    def first_below(self, *, level: float, certainty: float) -> float | None:
        """The first day ahead on which less than `level` is expected, or the level is below the target with
        that certainty. None when it never is, or is so from the beginning: that is weak, not fading."""
        for place, days in enumerate(self.ahead):
            if self.level[place] < level or self.chance_below[place] >= certainty:
                return days if place else None
        return None


def fadings(
    last: Belief,
    arrays: ParameterArrays,
    targets: Sequence[SkillTarget],
    *,
    day: float,
    ahead: Sequence[float],
) -> tuple[Fading, ...]:
    """One for each target whose skill the parameters know. `last`: right after the last set.

    Gains above a beginner's ability fade by a half-life, as `filter.rested` lets them on each single day.
    """
    known = [target for target in targets if target.skill in arrays.skills]
    if not known:
        return ()
    places = np.array([arrays.skills.index(target.skill) for target in known])
    mean, spread = idle_abilities(last, arrays, day + np.asarray(ahead, dtype=float) - last.day)
    mean, spread = mean[places], spread[places]
    level, low, high = level_with_interval(mean, spread, places, arrays)
    cuts = np.array([_ability_at(target, arrays) for target in known])
    below = sp.special.ndtr((cuts[:, None] - mean) / spread)
    days = tuple(float(each) for each in ahead)
    return tuple(
        Fading(target, days, *(tuple(rows[nth].tolist()) for rows in (level, low, high, below)))
        for nth, target in enumerate(known)
    )


def idle_abilities(last: Belief, arrays: ParameterArrays, idle: Array) -> tuple[Array, Array]:
    """(K, D) mean and standard deviation of the abilities, logits, after `idle` days without a set."""
    size, dynamics = arrays.size, arrays.dynamics
    idle = np.maximum(idle, 0.0) if last.sets else np.zeros_like(idle)
    gains = np.maximum(last.mean[:size] - dynamics.start, 0.0)
    loss = -gains[:, None] * np.expm1(arrays.log_retention[:, None] * idle)
    variance = (
        np.diag(last.spread())[:, None]
        + np.diag(arrays.idle_noise)[:, None] * idle
        + (dynamics.fade_spread * loss) ** 2
    )
    return last.mean[:size, None] - loss, np.sqrt(variance)


def _ability_at(target: SkillTarget, arrays: ParameterArrays) -> float:
    """The ability, logits, at which the target level is expected."""
    curve = arrays.curves[arrays.skills.index(target.skill)]
    return float(np.interp(target.target, curve, np.linspace(-CURVE_END, CURVE_END, len(curve))))
