"""The filter of filter.py for many students at once, block by block in 32-bit floats."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from assessments.skill.arrays import ParameterArrays, own_thresholds
from assessments.skill.elimination import backward, factorise, forward
from assessments.skill.filter import LEAST_INFORMATION, LONGEST_STEP, PASSES, first_belief
from assessments.skill.interface import TOP_LEVEL
from assessments.skill.likelihood import Floats, category_weights, count_news, level_moments
from assessments.skill.parameters import TRENDS
from assessments.skill.table import MISSING, Ints, MarkTable, Panel, panels

BLOCK = 2048


@dataclass(frozen=True, slots=True)
class Beliefs:
    """The belief about each of S students after their last set, as in filter.Belief.

    `mean`, `lean`: (S, K + 2); `covariance`: (S, K + 2, K + 2); `sets`, `day`: (S,). A student without a set
    has the belief about a beginner.
    """

    mean: Floats
    covariance: Floats
    lean: Floats
    sets: Ints
    day: npt.NDArray[np.float64]


@dataclass(slots=True)
class State:
    """A block under way: students innermost. `mean`, `lean`: (d, B); `covariance`: (d, d, B); `day`: (B,)."""

    mean: Floats
    covariance: Floats
    lean: Floats
    day: npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Slot:
    """Gradings taken in together: one of each student, or of the students at `columns`.

    `rows`: into the table; `at`: severity + difficulty, (n,); `weights`: of levels 0..4, (n,) each, by
    educator; `level`, `marked`: (C, n); counts the same, or None.
    """

    columns: Ints | None
    rows: Ints
    at: Floats
    weights: tuple[Floats, ...]
    level: Floats
    marked: Floats
    faults: Floats | None
    inspected: Floats | None


@dataclass(frozen=True, slots=True)
class Step:
    """One set of each active student, as solved: what a watcher may read, and must not change.

    n active students. `kept`: (K, n) share of each ability's own movement left after resting; `growth`:
    (2,) weight of slope and lead. `expected`: (K, n) ability foreseen; `prior`: (K, K, n) covariance of
    ability on the day; `on_day`, `information`, `target`: (K, n) mode, curvature, and the value that the
    marks alone ask for; `factor`, `inverse`: L D L' of prior + 1 / information. `doubt`: (n,), part of the
    prior.
    """

    number: int
    slots: list[Slot]
    kept: Floats
    growth: Floats
    expected: Floats
    prior: Floats
    on_day: Floats
    information: Floats
    target: Floats
    factor: Floats
    inverse: Floats
    doubt: Floats


Moved = tuple[Floats, Floats]
Watcher = Callable[[Panel, State, Step], None]


class Sweep:
    """One pass over a table with fixed parameters, in floats of `dtype`."""

    def __init__(self, table: MarkTable, arrays: ParameterArrays, dtype: Any = np.float32) -> None:
        self.table, self.arrays, self.dtype = table, arrays, dtype
        severity = [arrays.severity(code) for code in table.educators]
        difficulty = [arrays.difficulty(code) for code in table.briefs]
        self._severity = self._cast([facet.value for facet in severity])
        self._difficulty = self._cast([facet.value for facet in difficulty])
        self._severity_doubt = self._cast([facet.variance for facet in severity])
        self._difficulty_doubt = self._cast([facet.variance for facet in difficulty])
        own = [category_weights(own_thresholds(arrays.thresholds, facet)) for facet in severity]
        self._weights = tuple(self._cast(own).reshape(-1, TOP_LEVEL + 1).T)
        self._offset = self._cast(arrays.offset)[:, None]
        self._pool = self._cast(arrays.skill_of == np.arange(arrays.size)[:, None])
        self.counts = arrays.counts.turned(lambda column: self._cast(column)[:, None])

    def run(self, panel: Panel, watch: Watcher | None = None) -> State:
        """The state of the panel's students, each after the last set."""
        state = self._start(panel)
        for number, rows in enumerate(panel.rows):
            n = len(rows)
            moved = self._go_on(state, number, n, self.table.day[rows])
            slots = [self._slot(None, rows)]
            slots += [self._slot(columns, more) for columns, more in panel.extra[number]]
            step = self._solve(state, number, moved, slots)
            if watch is not None:
                watch(panel, state, step)
            self._take_in(state, step)
        return state

    def _cast(self, values: Any) -> Floats:
        return np.asarray(values, dtype=self.dtype)

    def _start(self, panel: Panel) -> State:
        belief, students = first_belief(self.arrays), len(panel.students)
        mean = np.repeat(self._cast(belief.mean)[:, None], students, axis=1)
        covariance = np.repeat(self._cast(belief.covariance)[:, :, None], students, axis=2)
        return State(mean, covariance, np.zeros_like(mean), self.table.day[panel.rows[0]].copy())

    def _go_on(self, state: State, number: int, n: int, day: npt.NDArray[np.float64]) -> Moved:
        """Rest until `day`, then the learning of one set: filter.rested and filter.practised."""
        size, dynamics = self.arrays.size, self.arrays.dynamics
        if number == 0:
            return np.ones_like(state.mean[:size, :n]), np.zeros(TRENDS, dtype=self.dtype)
        idle = self._cast(day - state.day[:n])
        state.day[:n] = day
        mean, covariance, lean = state.mean[:, :n], state.covariance[:, :, :n], state.lean[:, :n]
        gains = np.maximum(mean[:size] - self.dtype(dynamics.start), 0)
        lost = -np.expm1(self._cast(self.arrays.log_retention)[:, None] * idle)
        loss = gains * lost
        growth = self._cast(dynamics.growth(number))
        mean[:size] += growth @ mean[size:] + self.dtype(dynamics.extra_gain(number)) - loss
        lean[:size] += growth @ lean[size:]
        loss *= self.dtype(dynamics.fade_spread)
        for place, weight in enumerate(growth, start=size):
            covariance[:size] += weight * covariance[place]
        for place, weight in enumerate(growth, start=size):
            covariance[:, :size] += weight * covariance[:, place, None]
        block = covariance[:size, :size]
        block += loss[:, None] * loss
        block += self.dtype(dynamics.step_common) + self.dtype(dynamics.idle_common) * idle
        diagonal = np.einsum("iin->in", block)
        diagonal += self.dtype(dynamics.step_own) + self.dtype(dynamics.idle_own) * idle
        return 1 - lost * (gains > 0), growth

    def _slot(self, columns: Ints | None, rows: Ints) -> Slot:
        table = self.table
        level = np.ascontiguousarray(table.levels[rows].T)
        at = self._severity[table.educator[rows]] + self._difficulty[table.brief[rows]]
        marked = level > MISSING
        faults = inspected = None
        if table.has_counts:
            inspected = self._cast(table.inspected[rows].T)
            faults = self._cast(table.faults[rows].T)
            marked &= inspected == 0
        weights = tuple(weight[table.educator[rows]] for weight in self._weights)
        return Slot(columns, rows, at, weights, self._cast(level), self._cast(marked), faults, inspected)

    def _doubt(self, n: int, slots: list[Slot]) -> Floats:
        doubt = np.zeros(n, dtype=self.dtype)
        for slot in slots:
            columns = slice(None) if slot.columns is None else slot.columns
            more = self._severity_doubt[self.table.educator[slot.rows]]
            more = more + self._difficulty_doubt[self.table.brief[slot.rows]]
            doubt[columns] = np.maximum(doubt[columns], more)
        return doubt

    def _solve(self, state: State, number: int, moved: Moved, slots: list[Slot]) -> Step:
        n = len(slots[0].rows)
        size, dynamics = self.arrays.size, self.arrays.dynamics
        doubt = self._doubt(n, slots)
        prior = state.covariance[:size, :size, :n] + (self.dtype(dynamics.day_common) + doubt)
        diagonal = np.einsum("iin->in", prior)
        diagonal += self.dtype(dynamics.day_own)
        expected = state.mean[:size, :n].copy()
        on_day = expected
        for _ in range(PASSES):
            score, information = self.score_and_information(on_day, slots)
            noise = 1 / information
            factor = prior.copy()
            np.einsum("iin->in", factor)[...] += noise
            inverse = factorise(factor)
            target = on_day + score * noise
            pull = backward(factor, forward(factor, target - expected) * inverse)
            step = np.clip(target - noise * pull - on_day, -LONGEST_STEP, LONGEST_STEP)
            on_day = on_day + step
        return Step(
            number, slots, *moved, expected, prior, on_day, information, target, factor, inverse, doubt
        )

    def score_and_information(self, on_day: Floats, slots: list[Slot]) -> tuple[Floats, Floats]:
        """(K, n) each, as filter.score_and_information."""
        score = np.zeros_like(on_day)
        information = np.full_like(on_day, LEAST_INFORMATION)
        for slot in slots:
            columns = slice(None) if slot.columns is None else slot.columns
            slope, curvature = self.by_criterion(on_day[:, columns], slot)
            score[:, columns] += self.pool(slope)
            information[:, columns] += self.pool(curvature)
        return score, information

    def pool(self, by_criterion: Floats) -> Floats:
        """(C, n) summed to (K, n)."""
        return np.asarray(self._pool @ by_criterion)

    def by_criterion(self, on_day: Floats, slot: Slot) -> tuple[Floats, Floats]:
        """(C, n): what each mark of the slot adds to score and information."""
        eta = on_day[self.arrays.skill_of]
        eta -= slot.at
        eta -= self._offset
        mean, variance = level_moments(eta, slot.weights)
        slope = (slot.level - mean) * slot.marked
        curvature = variance * slot.marked
        if slot.inspected is not None and slot.faults is not None:
            more_slope, more_curvature = count_news(
                eta + self._offset, slot.faults, slot.inspected, self.counts
            )
            slope += more_slope
            curvature += more_curvature
        return slope, curvature

    def _take_in(self, state: State, step: Step) -> None:
        """filter.updated's last lines, by rows of L^-1: cross S^-1 cross' = sum of w w' / d."""
        size, n = self.arrays.size, step.expected.shape[1]
        mean, covariance, lean = state.mean[:, :n], state.covariance[:, :, :n], state.lean[:, :n]
        cross = forward(step.factor, covariance[:size].copy())
        news = forward(step.factor, step.target - step.expected)
        slant = forward(step.factor, np.sqrt(step.doubt) - lean[:size])
        for j in range(size):
            scaled = cross[j] * step.inverse[j]
            covariance -= scaled[:, None] * cross[j]
            mean += scaled * news[j]
            lean += scaled * slant[j]


def filter_table(table: MarkTable, arrays: ParameterArrays, *, block: int = BLOCK) -> Beliefs:
    """Beliefs about every student of the table, to single precision; time O(sets K^3 + marks)."""
    first = first_belief(arrays)
    students, width = table.students, len(first.mean)
    mean = np.tile(first.mean.astype(np.float32), (students, 1))
    covariance = np.tile(first.covariance.astype(np.float32), (students, 1, 1))
    lean = np.zeros((students, width), dtype=np.float32)
    sets, day = np.zeros(students, dtype=np.int32), np.zeros(students)
    sweep = Sweep(table, arrays)
    for panel in panels(table, block):
        state = sweep.run(panel)
        mean[panel.students] = state.mean.T
        covariance[panel.students] = state.covariance.transpose(2, 0, 1)
        lean[panel.students] = state.lean.T
        day[panel.students] = state.day
        sets[panel.students] = _lengths(panel)
    return Beliefs(mean, covariance, lean, sets, day)


def _lengths(panel: Panel) -> Ints:
    """Sets of each student of a panel, which lists those with most sets first."""
    places = np.arange(len(panel.students))
    return np.asarray(np.count_nonzero(panel.active[:, None] > places, axis=0))
