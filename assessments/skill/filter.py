"""One student's belief, carried from set to set: an extended Kalman filter for marks and counts.

The state is (theta_1..theta_K, slope, lead). Each set is taken in one Laplace step for all its skills
together: M. West, P. Harrison and H. Migon, J. Am. Stat. Assoc. 80 (1985) 73-83; the mode is found by
Newton's method as in L. Fahrmeir, J. Am. Stat. Assoc. 87 (1992) 501-509. (References from memory.)
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt

import numpy as np
import scipy as sp  # loads its parts at first use

from assessments.skill.arrays import Array, Index, ParameterArrays, mixed
from assessments.skill.interface import SkillInputError
from assessments.skill.likelihood import CountScales, count_news, level_moments_of_few
from assessments.skill.observations import SetRecord
from assessments.skill.parameters import TRENDS

PASSES = 3
LEAST_INFORMATION = 1e-4
LONGEST_STEP = 2.5


@dataclass(frozen=True, slots=True)
class Belief:
    """Normal belief about the state after `sets` graded sets, on `day`.

    `mean`: (K + 2,) logits; `covariance`: (K + 2, K + 2). `lean`: (K + 2,) how far the mean would move if
    every severity and difficulty used so far were one standard deviation off in the same direction, the
    worst case; its outer product belongs to the uncertainty about the student.
    """

    mean: Array
    covariance: Array
    lean: Array
    sets: int
    day: float

    def spread(self) -> Array:
        """(K, K) covariance of the abilities, errors of severities and difficulties included."""
        size = len(self.mean) - TRENDS
        return self.covariance[:size, :size] + np.outer(self.lean[:size], self.lean[:size])


@dataclass(frozen=True, slots=True)
class Evidence:
    """The marks of one set as arrays, levels and counts apart, each with the place of its skill.

    `level_at`: severity + difficulty + offset, logits; `level_powers`: likelihood.weighted_powers of the
    educator, or of each level when there are several. `count_at`: severity + difficulty; `count_scales`: of
    each count. `doubt`: variance of severity + difficulty.
    """

    level_skill: Index
    level: Array
    level_at: Array
    level_powers: Array
    count_skill: Index
    faults: Array
    inspected: Array
    count_at: Array
    count_scales: CountScales
    doubt: float


def first_belief(arrays: ParameterArrays, day: float = 0.0) -> Belief:
    """A beginner, before any mark."""
    size, dynamics = arrays.size, arrays.dynamics
    covariance = np.diag([0.0] * size + [dynamics.gain_variance, dynamics.lead_variance])
    covariance[:size, :size] = mixed(size, dynamics.start_common, dynamics.start_own)
    mean = np.array([dynamics.start] * size + [dynamics.gain, 0.0])
    return Belief(mean, covariance, np.zeros(size + TRENDS), 0, day)


def rested(belief: Belief, arrays: ParameterArrays, day: float) -> Belief:
    """The belief on a later `day` without practice: gains fade, and no variance ever shrinks."""
    idle = day - belief.day
    if belief.sets == 0 or idle <= 0:
        return belief
    size, dynamics = arrays.size, arrays.dynamics
    mean, covariance = belief.mean.copy(), belief.covariance.copy()
    gains = np.maximum(mean[:size] - dynamics.start, 0.0)
    loss = -gains * np.expm1(idle * arrays.log_retention)
    mean[:size] -= loss
    unsure = dynamics.fade_spread * loss
    covariance[:size, :size] += idle * arrays.idle_noise + unsure[:, None] * unsure
    return Belief(mean, covariance, belief.lean, belief.sets, day)


def practised(belief: Belief, arrays: ParameterArrays) -> Belief:
    """The belief about the next set: learning from the sets before, and the wandering of one set."""
    if belief.sets == 0:
        return belief
    size = arrays.size
    growth = np.array(arrays.dynamics.growth(belief.sets))
    mean, covariance, lean = belief.mean.copy(), belief.covariance.copy(), belief.lean.copy()
    mean[:size] += growth @ mean[size:] + arrays.dynamics.extra_gain(belief.sets)
    lean[:size] += growth @ lean[size:]
    covariance[:size] += growth @ covariance[size:]
    covariance[:, :size] += (covariance[:, size:] @ growth)[:, None]
    covariance[:size, :size] += arrays.step_noise
    return Belief(mean, covariance, lean, belief.sets, belief.day)


def updated(belief: Belief, arrays: ParameterArrays, evidence: Evidence) -> Belief:
    """The belief after the marks of one set."""
    size = arrays.size
    cross = belief.covariance[:, :size]
    prior = cross[:size] + (arrays.day_noise + evidence.doubt)
    expected = on_day = belief.mean[:size]
    for _ in range(PASSES):
        score, information = score_and_information(on_day, evidence, arrays)
        noise = 1 / information
        total = prior.copy()
        total.ravel()[:: size + 1] += noise
        target = on_day + score * noise
        pull = _solved(total, target - expected)
        on_day = on_day + _bounded(target - noise * pull - on_day)
    gain = _solved(total, cross.T).T
    return Belief(
        belief.mean + cross @ pull,
        belief.covariance - gain @ cross.T,
        belief.lean + gain @ (sqrt(evidence.doubt) - belief.lean[:size]),
        belief.sets + 1,
        belief.day,
    )


def _solved(system: Array, right: Array) -> Array:
    """For a positive definite `system`; a quarter of the time of numpy's solver at this size."""
    return np.asarray(sp.linalg.lapack.dposv(system, right)[1])


def _bounded(step: Array) -> Array:
    return np.minimum(np.maximum(step, -LONGEST_STEP), LONGEST_STEP)


def score_and_information(on_day: Array, evidence: Evidence, arrays: ParameterArrays) -> tuple[Array, Array]:
    """(K,) slope of the log likelihood at `on_day`, and its expected curvature, never quite 0."""
    size = arrays.size
    score, information = np.zeros(size), np.full(size, LEAST_INFORMATION)
    if len(evidence.level):
        eta = on_day[evidence.level_skill] - evidence.level_at
        mean, variance = level_moments_of_few(eta, evidence.level_powers)
        score += np.bincount(evidence.level_skill, evidence.level - mean, size)
        information += np.bincount(evidence.level_skill, variance, size)
    if len(evidence.faults):
        eta = on_day[evidence.count_skill] - evidence.count_at
        slope, curvature = count_news(eta, evidence.faults, evidence.inspected, evidence.count_scales)
        score += np.bincount(evidence.count_skill, slope, size)
        information += np.bincount(evidence.count_skill, curvature, size)
    return score, information


def evidence_of(record: SetRecord, arrays: ParameterArrays) -> Evidence:
    """Raises SkillInputError for a criterion that the parameters do not know."""
    levels: list[tuple[float, ...]] = []
    counts: list[tuple[float, ...]] = []
    powers: list[Array] = []
    difficulty = arrays.difficulty(record.brief)
    doubt = 0.0
    for grading in record.gradings:
        severity = arrays.severity(grading.educator)
        at = severity.value + difficulty.value
        doubt = max(doubt, severity.variance + difficulty.variance)
        counted = {code: count for code, count in grading.counts.items() if count[1] > 0}
        counts += [(_place(code, arrays), at, *count) for code, count in counted.items()]
        marks = [(_place(code, arrays), at, y) for code, y in grading.levels.items() if code not in counted]
        levels += marks
        powers += [arrays.powers_of(grading.educator)] * len(marks)
    own = (
        powers[0]
        if len(record.gradings) == 1 and powers
        else np.array(powers).reshape(-1, *arrays.powers.shape)
    )
    return _evidence(np.array(levels).reshape(-1, 3).T, np.array(counts).reshape(-1, 4).T, own, doubt, arrays)


def _evidence(levels: Array, counts: Array, powers: Array, doubt: float, arrays: ParameterArrays) -> Evidence:
    marked, counted = levels[0].astype(np.intp), counts[0].astype(np.intp)
    return Evidence(
        level_skill=arrays.skill_of[marked],
        level=levels[2],
        level_at=levels[1] + arrays.offset[marked],
        level_powers=powers,
        count_skill=arrays.skill_of[counted],
        faults=counts[2],
        inspected=counts[3],
        count_at=counts[1],
        count_scales=arrays.counts.turned(lambda column: column[counted]),
        doubt=doubt,
    )


def _place(code: str, arrays: ParameterArrays) -> int:
    place = arrays.criterion_index.get(code)
    if place is None:
        raise SkillInputError(
            "unknown_criterion",
            f"The skill model does not know the criterion {code}. Add it to the parameters, or refit them.",
        )
    return place


def beliefs_after_each_set(records: Iterable[SetRecord], arrays: ParameterArrays) -> list[Belief]:
    """The belief after each of a student's sets, given oldest first."""
    beliefs: list[Belief] = []
    for record in records:
        belief = beliefs[-1] if beliefs else first_belief(arrays, record.day)
        beliefs.append(after_set(belief, record, arrays))
    return beliefs


def after_set(belief: Belief, record: SetRecord, arrays: ParameterArrays) -> Belief:
    """The belief after one more graded set, not earlier than the last."""
    ahead = practised(rested(belief, arrays, record.day), arrays)
    return updated(ahead, arrays, evidence_of(record, arrays))
