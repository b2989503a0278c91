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
from assessments.skill.likelihood import Floats, level_chances, level_moments
from assessments.skill.table import MISSING, Panel

_POINTS = ((-1.0, 0.5), (1.0, 0.5))
# Standard deviation of an educator's own steps about the common thresholds, logits.
_SPREAD_STEP = 0.5
# A threshold rests on as much prior news as this many marks near it; a count scale on as many sets.
_PRIOR_MARKS = 20.0
_PRIOR_SETS = 20.0
LEAST_SLOPE, LARGEST_DISPERSION = 0.2, 0.5


class ScaleSums:
    """Sums over sets; hand `watch` to Sweep.run, panel after panel, then read the changes."""

    def __init__(self, sweep: Sweep) -> None:
        self._sweep = sweep
        criteria = len(sweep.arrays.skill_of)
        educators = len(sweep.table.educators)
        self._steps = np.zeros((educators, TOP_LEVEL))
        self._step_news = np.zeros((educators, TOP_LEVEL, TOP_LEVEL))
        self._levels = np.zeros((2, criteria))
        self._slopes = np.zeros((5, criteria))
        self._excess = np.zeros((2, criteria))

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
                    self._add_slopes(eta, slot, weight)
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

    def count_change(self) -> tuple[Array, Array]:
        """(change of slope, change of base), (C,) each; the fit in the middle stays."""
        news, first, second, lost, turned = self._slopes
        middle = first / np.maximum(news, 1e-9)
        spread = second - middle * first
        change = np.clip(-(turned - middle * lost) / (spread + _PRIOR_SETS), -0.2, 0.2)
        return np.asarray(change), np.asarray(change * middle)

    def dispersion(self) -> Array:
        """(C,) moment estimate, drawn towards the value in the parameters while there are few sets."""
        over, room = self._excess
        start = self._sweep.arrays.dispersion
        estimate = (over + _PRIOR_SETS * start) / (room + _PRIOR_SETS)
        return np.asarray(np.clip(estimate, 0.0, LARGEST_DISPERSION))

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

    def _add_slopes(self, eta: Floats, slot: Slot, weight: float) -> None:
        arrays = self._sweep.arrays
        faults, inspected = np.asarray(slot.faults), np.asarray(slot.inspected)
        share = 1 / (1 + np.exp(arrays.slope[:, None] * eta - arrays.base[:, None]))
        scale = weight / (1 + arrays.dispersion[:, None] * np.maximum(inspected - 1, 0))
        news, lost = scale * inspected * share * (1 - share), scale * (faults - inspected * share)
        parts = [news, news * eta, news * eta * eta, lost, lost * eta]
        self._slopes += np.stack([part.sum(axis=1) for part in parts])

    def _add_excess(self, foreseen: Floats, prior: Floats, slot: Slot) -> None:
        """Squared surprise beyond binomial variance and beyond the doubt about ability, and its scale."""
        arrays = self._sweep.arrays
        faults, inspected = np.asarray(slot.faults), np.asarray(slot.inspected)
        slope = arrays.slope[:, None]
        share = 1 / (1 + np.exp(slope * foreseen - arrays.base[:, None]))
        single = share * (1 - share)
        share = share + 0.5 * slope**2 * prior * single * (1 - 2 * share)
        binomial = inspected * single
        over = (faults - inspected * share) ** 2 - binomial - (binomial * slope) ** 2 * prior
        room = binomial * np.maximum(inspected - 1, 0)
        safe = np.maximum(room, 1e-9)
        self._excess += np.stack([(over * room / safe**2 * (room > 0)).sum(axis=1), (room > 0).sum(axis=1)])


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
