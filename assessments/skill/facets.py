"""Severities, difficulties, offsets and the mean course of learning by generalised least squares.

The filter is linear in them once the marks are linearised, so their columns are carried through the same
recursion as the mean: the augmented filter of P. de Jong, Annals of Statistics 19 (1991) 1073-1083 (from
memory). Inside one cell (a set's marks on one skill) the marks also differ from each other, and that
contrast is added.
"""

from collections.abc import Sequence

import numpy as np

from assessments.skill.arrays import Array
from assessments.skill.batch import Slot, State, Step, Sweep
from assessments.skill.elimination import forward
from assessments.skill.likelihood import Floats
from assessments.skill.parameters import COURSE_ENDS, TRENDS, stretch_of
from assessments.skill.table import Ints, Panel


class FacetEquations:
    """Normal equations `matrix` @ change = `right` for F columns: educators, briefs, criteria, stretches of
    the course, start, gain.

    A change is added to the value held in the parameters. Hand `watch` to Sweep.run, panel after panel.
    """

    def __init__(self, sweep: Sweep) -> None:
        self._sweep = sweep
        arrays, table = sweep.arrays, sweep.table
        self._educators, self._briefs = len(table.educators), len(table.briefs)
        self._first_criterion = self._educators + self._briefs
        self._first_stretch = self._first_criterion + len(arrays.skill_of)
        self.columns = self._first_stretch + len(COURSE_ENDS) + 2
        self.matrix: Array = np.zeros((self.columns, self.columns))
        self.right: Array = np.zeros(self.columns)
        self._moves: Floats = np.empty(0)

    def watch(self, panel: Panel, state: State, step: Step) -> None:
        """Takes one set of each active student into the equations."""
        if step.number == 0:
            self._moves = self._first_moves(len(panel.students))
        moves = self._moves[:, :, : step.expected.shape[1]]
        self._go_on(moves, step)
        size = self._sweep.arrays.size
        shares = self._shares(step)
        ahead = forward(step.factor, shares - moves[:size])
        news = forward(step.factor, step.target - step.expected)
        cross = forward(step.factor, state.covariance[:size, :, : step.expected.shape[1]].copy())
        for j in range(size):
            weighed = ahead[j] * step.inverse[j]
            self.matrix += weighed @ ahead[j].T
            self.right -= weighed @ news[j]
            moves += cross[j][:, None] * weighed

    def _first_moves(self, students: int) -> Floats:
        size = self._sweep.arrays.size
        moves = np.zeros((size + TRENDS, self.columns, students), dtype=self._sweep.dtype)
        moves[:size, -2] = 1
        moves[size, -1] = 1
        return moves

    def _go_on(self, moves: Floats, step: Step) -> None:
        size = self._sweep.arrays.size
        moves[:size] *= step.kept[:, None]
        moves[:size, -2] += 1 - step.kept
        for trend, weight in zip(moves[size:], step.growth, strict=True):
            moves[:size] += weight * trend
        stretch = stretch_of(step.number) if step.number else None
        if stretch is not None:
            moves[:size, self._first_stretch + stretch] += 1

    def _shares(self, step: Step) -> Floats:
        """(K, F, n): how far the value that the marks ask for moves with each column; and the contrasts."""
        size, n = self._sweep.arrays.size, step.expected.shape[1]
        shares = np.zeros((size, self.columns, n), dtype=self._sweep.dtype)
        score = np.zeros_like(step.expected)
        for slot in step.slots:
            columns = np.arange(n) if slot.columns is None else slot.columns
            slope, curvature = self._sweep.by_criterion(step.on_day[:, columns], slot)
            score[:, columns] += self._sweep.pool(slope)
            self._add_marks(slot, slope, curvature)
            self._add_shares(shares, slot, columns, curvature / step.information[self._skill_of][:, columns])
        for skill in range(size):
            weighed = shares[skill] * step.information[skill]
            self.matrix -= weighed @ shares[skill].T
            self.right += shares[skill] @ score[skill]
        return shares

    @property
    def _skill_of(self) -> Ints:
        return self._sweep.arrays.skill_of

    def _add_shares(self, shares: Floats, slot: Slot, columns: Ints, share: Floats) -> None:
        table = self._sweep.table
        whole = self._sweep.pool(share)
        shares[:, table.educator[slot.rows], columns] += whole
        shares[:, self._educators + table.brief[slot.rows], columns] += whole
        for criterion, skill in enumerate(self._skill_of):
            shares[skill, self._first_criterion + criterion, columns] += share[criterion]

    def _add_marks(self, slot: Slot, slope: Floats, curvature: Floats) -> None:
        """Sum of curvature x x' and of -x slope over the marks, x marking educator, brief and criterion."""
        table, first = self._sweep.table, self._first_criterion
        facets, criteria = slice(0, first), slice(first, self._first_stretch)
        places = np.arange(first)[:, None]
        marked_by = places == table.educator[slot.rows]
        marked_by |= places == self._educators + table.brief[slot.rows]
        who = marked_by.astype(slope.dtype)
        shared = who @ curvature.T
        self.matrix[facets, facets] += (who * curvature.sum(axis=0)) @ who.T
        self.matrix[facets, criteria] += shared
        self.matrix[criteria, facets] += shared.T
        self.matrix[criteria, criteria] += np.diag(curvature.sum(axis=1))
        self.right[facets] -= who @ slope.sum(axis=0)
        self.right[criteria] -= slope.sum(axis=1)


def solved(equations: FacetEquations, precision: Array, pull: Array) -> tuple[Array, Array]:
    """(change, covariance) with a normal prior: `precision` of each column, `pull` = precision * how far the
    present value lies from the middle of its prior."""
    covariance: Array = np.asarray(np.linalg.inv(equations.matrix + np.diag(precision)), dtype=float)
    return covariance @ (equations.right - pull), covariance


def centred(covariance: Array, groups: Sequence[Ints]) -> Array:
    """The covariance once the mean of each group of columns is taken out."""
    turn = np.eye(len(covariance))
    for group in groups:
        turn[np.ix_(group, group)] -= 1 / len(group)
    return np.asarray(turn @ covariance @ turn.T)
