"""Thresholds of the levels and scales of the counts, from marks weighed by the belief after each set.

Each is one Newton step of the marginal likelihood by Fisher's identity: the slope of log p(marks) is the
expected slope of log p(marks | ability) under the belief, here at two Gauss-Hermite points.
"""

from collections.abc import Sequence

import numpy as np

from assessments.skill.arrays import Array
from assessments.skill.batch import Slot, State, Step, Sweep
from assessments.skill.elimination import forward
from assessments.skill.interface import TOP_LEVEL
from assessments.skill.likelihood import (
    Floats,
    excess,
    fault_curve,
    level_chances,
    level_moments,
)
from assessments.skill.parameters import BEND_REACH
from assessments.skill.table import MISSING, Panel

_POINTS = ((-1.0, 0.5), (1.0, 0.5))
# Standard deviation of an educator's own steps about the common thresholds, logits.
_SPREAD_STEP = 0.5
# A threshold rests on as much prior news as this many marks near it; a count scale on as many sets.
_PRIOR_MARKS = 20.0
_PRIOR_SETS = 20.0
# Precision of a dispersion and of its rise about those in the parameters.
_PRIOR_EXCESS = np.diag([0.02**-2, 0.1**-2])
LEAST_SLOPE, LARGEST_EACH = 0.1, 0.49
# Of the slope: a fault curve is at most four times as steep at one end as at the other.
LARGEST_BEND = 0.6


class ScaleSums:
    """Sums over sets; hand `watch` to Sweep.run, panel after panel, then read the changes."""

    def __init__(self, sweep: Sweep) -> None:
        self._sweep = sweep
        criteria = len(sweep.arrays.skill_of)
        educators = len(sweep.table.educators)
        self._steps = np.zeros((educators, TOP_LEVEL))
        self._step_news = np.zeros((educators, TOP_LEVEL, TOP_LEVEL))
        self._levels = np.zeros((2, criteria))
        self._curve_news = np.zeros((criteria, 3, 3))
        self._curve_pull = np.zeros((criteria, 3))
        self._excess_news = np.zeros((criteria, 2, 2))
        self._excess_pull = np.zeros((criteria, 2))

    def watch(self, panel: Panel, state: State, step: Step) -> None:
        """Takes one set of each active student into the sums."""
        spread = _spread_on_day(step)
        for slot in step.slots:
            columns = slice(None) if slot.columns is None else slot.columns
            for point, weight in _POINTS:
                on_day = step.on_day[:, columns] + point * spread[:, columns]
                eta = on_day[self._sweep.arrays.skill_of] - slot.at
                self._add_levels(eta, slot, weight)
                if slot.inspected is not None:
                    self._add_curves(eta, slot, weight)
            if slot.inspected is not None:
                foreseen = step.expected[:, columns][self._sweep.arrays.skill_of] - slot.at
                prior = np.einsum("iin->in", step.prior)[:, columns][self._sweep.arrays.skill_of]
                self._add_excess(foreseen, prior, slot)

    def threshold_change(self) -> Array:
        """(4,) logits, sum 0: what to add to the thresholds."""
        news = self._step_news.sum(axis=0) + _PRIOR_MARKS * 0.1 * np.eye(TOP_LEVEL)
        change = -np.linalg.solve(news, self._steps.sum(axis=0))
        return np.asarray(np.clip(change - change.mean(), -1, 1))

    def own_steps(self) -> Array:
        """(educators, 4) logits, each with sum 0: how far their thresholds then lie from the common ones."""
        arrays = self._sweep.arrays
        own = np.array([arrays.severity(code).steps for code in self._sweep.table.educators])
        precision = np.eye(TOP_LEVEL) / _SPREAD_STEP**2
        left = self._steps + self._step_news @ self.threshold_change() + own @ precision
        own = own - np.clip(np.linalg.solve(self._step_news + precision, left[..., None])[..., 0], -1, 1)
        return np.asarray(own - own.mean(axis=1, keepdims=True))

    def level_offset_change(self) -> Array:
        """(C,) logits for criteria whose counts were used: their levels then fit the same ability."""
        gap, news = self._levels
        return np.asarray(np.clip(-gap / (news + 1.0), -1, 1))

    def count_change(self) -> Array:
        """(C, 3) change of base, slope and bend; a bend is drawn towards 0 while there are few sets."""
        # A criterion without counts has no news at all; its base must still not move.
        precision = np.diag([1e-6, _PRIOR_SETS, _PRIOR_SETS])
        pull = self._curve_pull.copy()
        pull[:, 2] -= _PRIOR_SETS * self._sweep.arrays.counts.bend
        change = np.linalg.solve(self._curve_news + precision, pull[..., None])[..., 0]
        longest = np.abs(change[:, 1:]).max(axis=1, keepdims=True)
        return np.asarray(change * np.minimum(1, 0.2 / np.maximum(longest, 1e-9)))

    def dispersion(self) -> Array:
        """(C, 2) dispersion and its rise by weighted least squares of the squared surprises, neither below 0;
        drawn towards the parameters' while there are few sets."""
        from scipy.optimize import nnls

        counts = self._sweep.arrays.counts
        start = np.stack([counts.dispersion, counts.rise], axis=1)
        news, pull = self._excess_news + _PRIOR_EXCESS, self._excess_pull + start @ _PRIOR_EXCESS
        return np.minimum([nnls(*pair)[0] for pair in zip(news, pull, strict=True)], LARGEST_EACH)

    def _add_levels(self, eta: Floats, slot: Slot, weight: float) -> None:
        offset = self._sweep.arrays.offset[:, None]
        if slot.inspected is not None:
            used = (slot.inspected > 0) & (slot.level > MISSING)
            mean, variance = level_moments(eta - offset, slot.weights)
            self._levels += weight * np.stack(
                [((slot.level - mean) * used).sum(axis=1), (variance * used).sum(axis=1)]
            )
        above = _chances_above(eta - offset, slot.weights) * slot.marked[..., None]
        reached = (slot.level[..., None] >= np.arange(1, TOP_LEVEL + 1)) * slot.marked[..., None]
        both = (above.transpose(1, 2, 0) @ above.transpose(1, 0, 2)).reshape(-1, TOP_LEVEL**2)
        places = np.arange(len(self._steps))[:, None]
        by_educator = weight * (places == self._sweep.table.educator[slot.rows])
        self._steps += by_educator @ (reached - above).sum(axis=0)
        self._step_news += _at_least_both(by_educator @ above.sum(axis=0))
        self._step_news -= (by_educator @ both).reshape(self._step_news.shape)

    def _add_curves(self, eta: Floats, slot: Slot, weight: float) -> None:
        counts = self._sweep.counts
        faults, inspected = np.asarray(slot.faults), np.asarray(slot.inspected)
        share, _ = fault_curve(eta, counts)
        scale = weight / excess(share, inspected, counts)
        columns = np.stack([np.ones_like(eta), -eta, -np.sqrt(eta * eta + BEND_REACH**2)])
        news = scale * inspected * share * (1 - share)
        self._curve_news += np.einsum("icn,jcn,cn->cij", columns, columns, news)
        self._curve_pull += np.einsum("icn,cn->ci", columns, scale * (faults - inspected * share))

    def _add_excess(self, foreseen: Floats, prior: Floats, slot: Slot) -> None:
        """Squared surprise beyond binomial variance and beyond the doubt about ability, for its regression on
        the fault share; weighed by its own variance, 2 V^2 + V for a count of variance V."""
        counts = self._sweep.counts
        faults, inspected = np.asarray(slot.faults), np.asarray(slot.inspected)
        share, steepness = fault_curve(foreseen, counts)
        single = share * (1 - share)
        share = share + 0.5 * steepness**2 * prior * single * (1 - 2 * share)
        binomial, unsure = inspected * single, (inspected * single * steepness) ** 2 * prior
        over = (faults - inspected * share) ** 2 - binomial - unsure
        variance = binomial * excess(share, inspected, counts) + unsure
        room = binomial * np.maximum(inspected - 1, 0)
        weight = 1 / np.maximum(2 * variance**2 + variance, 1e-9)
        columns = np.stack([room, room * share])
        self._excess_news += np.einsum("icn,jcn,cn->cij", columns, columns, weight)
        self._excess_pull += np.einsum("icn,cn->ci", columns, weight * over)


def _spread_on_day(step: Step) -> Floats:
    """(K, n) standard deviation of ability on the day after the set's marks."""
    size = len(step.prior)
    variance = np.einsum("iin->in", step.prior).copy()
    rows = forward(step.factor, step.prior.copy())
    for j in range(size):
        variance -= rows[j] ** 2 * step.inverse[j]
    return np.asarray(np.sqrt(np.maximum(variance, 0)))


def _chances_above(eta: Floats, weights: Sequence[Floats]) -> Array:
    """(C, n, 4) chance of at least level 1..4."""
    chances = level_chances(eta, np.array(weights, dtype=float).T)
    return np.asarray(chances[..., ::-1].cumsum(axis=-1)[..., ::-1][..., 1:])


def _at_least_both(above: Array) -> Array:
    """(educators, 4, 4) expected count of marks at least level h and at least i: that of the higher one."""
    return np.asarray(np.minimum(above[:, :, None], above[:, None, :]))
