"""What a competence rule really does: exact chances within a number of sets, and its risk on real sets."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from assessments.scoring.adjustment import FloatArray
from assessments.scoring.chain import walk
from assessments.scoring.competence_rules import TIE, CompetenceRule, Conditions, LearningCusum
from assessments.scoring.wording import percent

MOST_CLEAN_SETS = 1000
_GRID = 100  # thresholds are searched in hundredths

RATES = tuple(round(0.02 * index, 2) for index in range(1, 50))


@dataclass(frozen=True, slots=True)
class Curve:
    """What happens within `sets` sets at each true rate (0..1); all tuples run along `rates`.

    `median_sets`: by which set half are declared, None when fewer ever are within `sets`.
    `mean_sets`: sets graded before a decision, or `sets` without one.
    """

    sets: int
    rates: tuple[float, ...]
    declared: tuple[float, ...]
    not_yet: tuple[float, ...]
    median_sets: tuple[int | None, ...]
    mean_sets: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Risks:
    """Within `sets` sets: the chances of declaring a student at the inadequate and at the acceptable rate.

    `earliest`: sets that a decision needs at the least, all clean; None when more than 1000.
    """

    sets: int
    false_declared: float
    declared: float
    median_sets: int | None
    earliest: int | None
    words: str


@dataclass(frozen=True, slots=True)
class Attained:
    """The same two chances over the sets a student has really done, with their educators and briefs."""

    sets: int
    false_declared: float
    declared: float


def curve(
    rule: CompetenceRule,
    *,
    rates: Sequence[float] = RATES,
    sets: int | None = None,
    restarting: bool = False,
) -> Curve:
    """Exact operating characteristics under average educators and briefs.

    `sets` defaults to the horizon of the rule. `restarting`: after "not yet" teaching follows at once and the
    next set starts again; otherwise "not yet" is final. Milliseconds; cached by its arguments.
    """
    return _curve(rule, tuple(rates), sets or rule.horizon, restarting)


def risks(rule: CompetenceRule, *, sets: int | None = None, restarting: bool = False) -> Risks:
    """The two risks of a rule with the number of sets that they hold for, and one sentence on them."""
    both = (rule.inadequate_rate, rule.acceptable_rate)
    found = curve(rule, rates=both, sets=sets, restarting=restarting)
    return Risks(
        sets=found.sets,
        false_declared=found.declared[0],
        declared=found.declared[1],
        median_sets=found.median_sets[1],
        earliest=clean_sets_left(rule),
        words=_words(rule, found),
    )


@lru_cache(maxsize=1024)
def attained(rule: CompetenceRule, conditions: tuple[Conditions, ...]) -> Attained:
    """The risks over exactly these sets: their educators, briefs, fans inspected and restarts."""
    if not conditions:
        return Attained(0, 0.0, 0.0)
    found = walk(rule, conditions, (rule.inadequate_rate, rule.acceptable_rate))
    return Attained(len(conditions), *(float(chance) for chance in found.declared[-1]))


def threshold_for(acceptable_rate: float, inadequate_rate: float, horizon: int, risk: float) -> float:
    """The lowest threshold, in hundredths, of a learning-curve CUSUM whose risk is at most `risk`.

    By bisection on the exact chance to declare a student at the inadequate rate within `horizon` sets.
    """
    return _threshold(acceptable_rate, inadequate_rate, horizon, risk)


def clean_sets_left(rule: CompetenceRule, evidence: float = 0.0) -> int | None:
    """Sets without a fault, under an average educator, from `evidence` to a declaration."""
    state, clean = np.array([evidence]), np.array([0])
    for sets in range(1, MOST_CLEAN_SETS + 1):
        state = rule.move(state, clean, rule.usual)
        if rule.verdict(state)[0] > 0:
            return sets
    return None


@lru_cache(maxsize=256)
def _curve(rule: CompetenceRule, rates: tuple[float, ...], sets: int, restarting: bool) -> Curve:
    usual = rule.usual
    conditions = (Conditions(usual.shift, usual.inspected, retaught=restarting),) * sets
    found = walk(rule, conditions, rates)
    undecided = np.vstack([np.ones(len(rates)), 1 - found.declared - found.not_yet])
    return Curve(
        sets=sets,
        rates=rates,
        declared=_shares(found.declared[-1]),
        not_yet=_shares(found.not_yet[-1]),
        median_sets=tuple(_median(column) for column in found.declared.T),
        mean_sets=tuple(float(mean) for mean in undecided[:-1].sum(axis=0)),
    )


@lru_cache(maxsize=256)
def _threshold(acceptable_rate: float, inadequate_rate: float, horizon: int, risk: float) -> float:
    def is_enough(hundredths: int) -> bool:
        rule = LearningCusum(
            acceptable_rate=acceptable_rate,
            inadequate_rate=inadequate_rate,
            horizon=horizon,
            threshold=hundredths / _GRID,
        )
        return float(walk(rule, [rule.usual] * horizon, [inadequate_rate]).declared[-1, 0]) <= risk

    low, high = 0, 50 * _GRID
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if is_enough(middle) else (middle, high)
    return high / _GRID


def _shares(chances: FloatArray) -> tuple[float, ...]:
    return tuple(float(share) for share in np.clip(chances, 0.0, 1.0))


def _median(declared: FloatArray) -> int | None:
    reached = declared >= 0.5 - TIE
    return int(reached.argmax()) + 1 if reached.any() else None


def _words(rule: CompetenceRule, found: Curve) -> str:
    unready, ready = (rule.performer(rate) for rate in found.rates)
    middle = found.median_sets[1]
    half = f", half of them by set {middle}" if middle else ""
    return (
        f"Within {found.sets} sets, {unready} is declared competent {percent(found.declared[0])} of the "
        f"time, and {ready} {percent(found.declared[1])} of the time{half}."
    )
