"""Parameters laid out as arrays once, for every computation that follows."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log

import numpy as np
import numpy.typing as npt

from assessments.skill.likelihood import (
    CountScales,
    band_level,
    category_weights,
    level_moments,
    weighted_powers,
)
from assessments.skill.parameters import UNKNOWN, CountScale, Dynamics, Facet, Parameters

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]
BAND_GRID: Array = np.linspace(-12, 12, 241)
# Where the levels of the skills are laid out, 50 points a logit: straight between them, within 1e-4 levels.
CURVE_END, CURVE_STEPS = 12, 50
_CURVE_GRID: Array = np.linspace(-CURVE_END, CURVE_END, 2 * CURVE_END * CURVE_STEPS + 1)


@dataclass(frozen=True, slots=True)
class ParameterArrays:
    """K skills, C criteria. A criterion that is not counted has an unused default count scale.

    `weights`: exp of minus the summed thresholds; `powers`: see `weighted_powers`; `own_powers`: the same for
    each educator with thresholds of their own. `curves`: (K, G) expected level of each skill, CURVE_STEPS
    points a logit between -CURVE_END and CURVE_END. `log_retention`: log of the share of a gain that is left
    after one idle day, by skill. The noises are (K, K): of one set, of one idle day, of the day itself.
    """

    skills: tuple[str, ...]
    criterion_index: Mapping[str, int]
    skill_by_code: Mapping[str, int]
    skill_of: Index
    offset: Array
    curves: Array
    counts: CountScales
    thresholds: tuple[float, ...]
    weights: tuple[float, ...]
    powers: Array
    own_powers: Mapping[str, Array]
    log_retention: Array
    step_noise: Array
    idle_noise: Array
    day_noise: Array
    dynamics: Dynamics
    educators: Mapping[str, Facet]
    briefs: Mapping[str, Facet]

    @property
    def size(self) -> int:
        return len(self.skills)

    def severity(self, educator: str) -> Facet:
        return self.educators.get(educator, UNKNOWN)

    def powers_of(self, educator: str) -> Array:
        return self.own_powers.get(educator, self.powers)

    def difficulty(self, brief: str) -> Facet:
        return self.briefs.get(brief, UNKNOWN)


def parameter_arrays(parameters: Parameters) -> ParameterArrays:
    index = {code: place for place, code in enumerate(parameters.skill_codes)}
    criteria, dynamics = parameters.criteria, parameters.dynamics
    weights = category_weights(parameters.thresholds)
    days = {True: dynamics.fade_days_speed, False: dynamics.fade_days_accuracy}
    return ParameterArrays(
        skills=parameters.skill_codes,
        criterion_index={criterion.code: place for place, criterion in enumerate(criteria)},
        skill_by_code={criterion.code: index[criterion.skill] for criterion in criteria},
        skill_of=np.array([index[criterion.skill] for criterion in criteria], dtype=np.intp),
        offset=_column(criterion.offset for criterion in criteria),
        curves=_curves(parameters, weights.tolist()),
        counts=_count_scales([criterion.count or CountScale() for criterion in criteria]),
        thresholds=parameters.thresholds,
        weights=tuple(weights.tolist()),
        powers=weighted_powers(weights.tolist()),
        own_powers=_own_powers(parameters),
        log_retention=_column(log(0.5) / days[skill.is_speed] for skill in parameters.skills),
        step_noise=mixed(len(index), dynamics.step_common, dynamics.step_own),
        idle_noise=mixed(len(index), dynamics.idle_common, dynamics.idle_own),
        day_noise=mixed(len(index), dynamics.day_common, dynamics.day_own),
        dynamics=dynamics,
        educators=parameters.educators,
        briefs=parameters.briefs,
    )


def _count_scales(scales: Sequence[CountScale]) -> CountScales:
    return CountScales(
        base=_column(scale.base for scale in scales),
        slope=_column(scale.slope for scale in scales),
        bend=_column(scale.bend for scale in scales),
        dispersion=_column(scale.dispersion for scale in scales),
        rise=_column(scale.rise for scale in scales),
    )


def _curves(parameters: Parameters, weights: Sequence[float]) -> Array:
    """(K, G), also when there is no skill yet."""
    rows = [_curve(code, parameters, weights) for code in parameters.skill_codes]
    return np.array(rows).reshape(len(rows), len(_CURVE_GRID))


def _curve(skill: str, parameters: Parameters, weights: Sequence[float]) -> Array:
    """Expected level, 0..4, at _CURVE_GRID: the mean over the skill's criteria. A counted criterion has the
    level of its bands, when they are known; a skill without a criterion that of an average one."""
    criteria = [criterion for criterion in parameters.criteria if criterion.skill == skill]
    banded = [item.count for item in criteria if item.count is not None and item.count.at_most]
    plain = [item.offset for item in criteria if item.count is None or not item.count.at_most]
    levels = [np.interp(_CURVE_GRID, BAND_GRID, band_level(BAND_GRID, scale)) for scale in banded]
    offsets = np.array(plain if criteria else [0.0])
    levels += list(level_moments(_CURVE_GRID - offsets[:, None], weights)[0])
    return np.asarray(np.mean(levels, axis=0))


def _own_powers(parameters: Parameters) -> dict[str, Array]:
    return {
        code: weighted_powers(category_weights(own_thresholds(parameters.thresholds, facet)).tolist())
        for code, facet in parameters.educators.items()
        if any(facet.steps)
    }


def own_thresholds(common: Sequence[float], educator: Facet) -> list[float]:
    """(4,) where the educator begins levels 1 to 4, logits above severity."""
    return [step + own for step, own in zip(common, educator.steps, strict=True)]


def mixed(size: int, common: float, own: float) -> Array:
    """Covariance `common` 11' + `own` I over the skills."""
    return np.full((size, size), common) + own * np.eye(size)


def _column(values: Iterable[float]) -> Array:
    return np.fromiter(values, dtype=float)
