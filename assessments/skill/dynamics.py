"""The spreads of the dynamics by their evidence: how probable the marks are under the filter."""

from dataclasses import replace
from math import exp, log1p
from typing import Any

import numpy as np

from assessments.skill.arrays import Array, ParameterArrays, parameter_arrays
from assessments.skill.batch import Slot, State, Step, Sweep
from assessments.skill.interface import TOP_LEVEL
from assessments.skill.likelihood import Floats, count_chance, level_sums
from assessments.skill.parameters import Parameters
from assessments.skill.table import MarkTable, Panel, panels

SPREADS = (
    *("start_common", "start_own", "step_common", "step_own", "day_common", "day_own"),
    *("gain_variance", "lead_variance"),
)
FEWEST_STUDENTS = 200
FEWEST_SETS = 5
# Standard deviation of the log of each spread about its default: a factor e either way is unsurprising.
_PRIOR_SPREAD = 1.0
_LEAST_SPREAD = 1e-4
# The set by which growth is held while the bend of the curve is tried.
_BEND_SETS = 8


def log_evidence(table: MarkTable, arrays: ParameterArrays) -> float:
    """Laplace approximation of log p(marks), up to a constant that no parameter moves; 64-bit floats.

    Each set adds log p(marks | mode) - 1/2 (mode - mean)' C^-1 (mode - mean) - 1/2 log |I + C J|:
    L. Tierney and J. Kadane, J. Am. Stat. Assoc. 81 (1986) 82-86 (from memory).
    """
    sweep = Sweep(table, arrays, np.float64)
    total = 0.0

    def watch(panel: Panel, state: State, step: Step) -> None:
        nonlocal total
        pull = (step.target - step.on_day) * step.information
        total -= 0.5 * float(((step.on_day - step.expected) * pull).sum())
        total -= 0.5 * float(np.log(step.information).sum() - np.log(step.inverse).sum())
        total += sum(_log_chance(step.on_day, slot, sweep) for slot in step.slots)

    for panel in panels(table, 256):
        sweep.run(panel, watch)
    return total


def _log_chance(on_day: Floats, slot: Slot, sweep: Sweep) -> float:
    """Of the levels and, as a quasi-likelihood, of the counts."""
    arrays = sweep.arrays
    columns = slice(None) if slot.columns is None else slot.columns
    eta = on_day[:, columns][arrays.skill_of] - slot.at
    level_eta = eta - arrays.offset[:, None]
    whole = level_sums(level_eta, slot.weights)[0]
    steps = np.choose(np.maximum(slot.level, 0).astype(np.intp), np.log(slot.weights))
    total = float((slot.marked * (slot.level * level_eta + steps - np.log(whole))).sum())
    if slot.inspected is None or slot.faults is None:
        return total
    return total + float(count_chance(eta, slot.faults, slot.inspected, sweep.counts).sum())


def has_enough(table: MarkTable) -> bool:
    """Whether the spreads can be fitted at all: 200 students with 5 sets."""
    sets = np.bincount(table.student, minlength=table.students)
    return int(np.count_nonzero(sets >= FEWEST_SETS)) >= FEWEST_STUDENTS


def fitted(table: MarkTable, start: Parameters, *, iterations: int = 15) -> Parameters:
    """`start` with the spreads, the bend of the learning curve, the half-lives and the thresholds that make
    the marks most probable, drawn towards those of `start`.

    With too few students the parameters come back unchanged. The cost is about 15 filters of the table an
    iteration: give it a few hundred students.
    """
    from scipy.optimize import minimize

    if not has_enough(table):
        return start

    def cost(change: Array) -> float:
        there = _changed(start, change)
        prior = 0.5 * float(change @ change) / _PRIOR_SPREAD**2
        return prior - log_evidence(table, parameter_arrays(there))

    size = len(SPREADS) + 2 + TOP_LEVEL
    options: Any = {"maxiter": iterations, "eps": 1e-3}
    bounds: list[tuple[float, float]] = [(-3.0, 3.0)] * size
    best = minimize(cost, np.zeros(size), method="L-BFGS-B", bounds=bounds, options=options)
    return _changed(start, best.x)


def _changed(start: Parameters, change: Array) -> Parameters:
    """Spreads, practice and both half-lives times exp(change), thresholds plus change."""
    old, bend = start.dynamics, len(SPREADS)
    practice = min(100.0, old.practice * exp(change[bend]))
    stretch = log1p(_BEND_SETS / old.practice) / log1p(_BEND_SETS / practice)
    spreads = {
        name: max(getattr(old, name), _LEAST_SPREAD) * exp(step)
        for name, step in zip(SPREADS, change, strict=False)
    }
    spreads["gain_variance"] *= stretch**2
    slower = exp(change[bend + 1])
    thresholds = np.add(start.thresholds, change[bend + 2 :])
    return replace(
        start,
        thresholds=tuple((thresholds - thresholds.mean()).tolist()),
        dynamics=replace(
            old,
            **spreads,
            practice=practice,
            gain=old.gain * stretch,
            fade_days_accuracy=old.fade_days_accuracy * slower,
            fade_days_speed=old.fade_days_speed * slower,
        ),
    )
