"""After a declaration: the watch that notices when skill slips, and the return to review."""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from assessments.scoring.adjustment import FloatArray, evidence_weights
from assessments.scoring.chain import starting, step, walk
from assessments.scoring.competence import COMPETENT, Decision, decide
from assessments.scoring.competence_rules import (
    TIE,
    CompetenceRule,
    Conditions,
    IntArray,
    SetResult,
    check_threshold,
    floored,
)
from assessments.scoring.wording import percent, rate_words

REVIEW = "review"
_LONGEST_WALK = 20_000
_NO_ALARM_YET = 500  # sets after which a chance of an alarm still at nothing is taken for nothing
_SETTLED = 1e-11


@dataclass(frozen=True, slots=True, kw_only=True)
class LapseWatch(CompetenceRule):
    """CUSUM on fails after a declaration; its "declaration" is the alarm.

    E. S. Page, Biometrika 41 (1954) 100-115, with the weights of Wald's ratio, risk-adjusted as before.
    """

    threshold: float

    def check(self) -> None:
        check_threshold(self.threshold)

    def move(self, evidence: FloatArray, outcome: IntArray, conditions: Conditions) -> FloatArray:
        weights = np.array(evidence_weights(self.acceptable_rate, self.inadequate_rate, conditions.shift))
        return floored(evidence, -weights[outcome])

    def verdict(self, evidence: FloatArray) -> IntArray:
        return (evidence >= self.threshold - TIE).astype(np.int64)


@dataclass(frozen=True, slots=True)
class WatchRisks:
    """`sets_to_false_alarm`, `sets_to_alarm`: mean sets to an alarm while good, and once slipped.

    `false_alarm`: chance of an alarm within `sets` good sets; `caught`: within `soon` sets once slipped.
    """

    sets: int
    false_alarm: float
    soon: int
    caught: float
    sets_to_false_alarm: float
    sets_to_alarm: float
    words: str


@dataclass(frozen=True, slots=True)
class Course:
    """A whole history: declared, watched, sent to review, declared again.

    `status`: as a Decision's, or "review" from an alarm until the next declaration. `declared_at`,
    `alarmed_at`: places in the history, from 1. `decision`: the last one of the rule. `watch`: the sum of the
    watch after each set since the last declaration, to draw against its threshold.
    """

    status: str
    words: str
    declared_at: tuple[int, ...]
    alarmed_at: tuple[int, ...]
    decision: Decision
    watch: tuple[float, ...]


def follow(rule: CompetenceRule, watch: LapseWatch | None, history: Sequence[SetResult]) -> Course:
    """Read graded sets, oldest first: an alarm sends to review, empties the watch and restarts the rule."""
    declared: list[int] = []
    alarmed: list[int] = []
    start = 0
    sums: tuple[float, ...] = ()
    decision = decide(rule, history)
    while watch is not None and decision.declared_at is not None:
        declared.append(start + decision.declared_at)
        sums, alarm = watched(watch, history[declared[-1] :])
        if alarm is None:
            break
        start = declared[-1] + alarm
        alarmed.append(start)
        decision = decide(rule, history[start:])
    if watch is None and decision.declared_at is not None:
        declared.append(decision.declared_at)
    status = REVIEW if alarmed and decision.status != COMPETENT else decision.status
    shown = sums if decision.status == COMPETENT else ()
    return Course(status, _course_words(decision, alarmed), tuple(declared), tuple(alarmed), decision, shown)


def watched(watch: LapseWatch, history: Sequence[SetResult]) -> tuple[tuple[float, ...], int | None]:
    """The sum after each set up to an alarm, and the place of the alarm from 1; unmarked sets add nothing."""
    sums: list[float] = []
    evidence = np.zeros(1)
    for place, result in enumerate(history, start=1):
        outcome = watch.outcome(result)
        if outcome is not None:
            evidence = watch.move(evidence, np.array([outcome]), result.conditions)
        sums.append(float(evidence[0]))
        if watch.verdict(evidence)[0]:
            return tuple(sums), place
    return tuple(sums), None


@lru_cache(maxsize=256)
def watch_risks(watch: LapseWatch, *, soon: int = 10) -> WatchRisks:
    """Exact false-alarm and detection figures within the horizon of the watch, and one sentence on them."""
    both = (watch.acceptable_rate, watch.inadequate_rate)
    conditions = [watch.usual] * max(watch.horizon, soon)
    alarms = walk(watch, conditions, both).declared
    lengths = run_lengths(watch, both)
    false_alarm, caught = float(alarms[watch.horizon - 1, 0]), float(alarms[soon - 1, 1])
    words = (
        f"While work stays good, {percent(false_alarm)} are sent to review by chance within {watch.horizon} "
        f"sets; once it slips to {rate_words(watch.inadequate_rate)} failed sets, {percent(caught)} are "
        f"noticed within {soon}."
    )
    return WatchRisks(watch.horizon, false_alarm, soon, caught, lengths[0], lengths[1], words)


@lru_cache(maxsize=256)
def alarm_threshold(acceptable_rate: float, inadequate_rate: float, horizon: int, risk: float) -> float:
    """The lowest threshold, in hundredths, at which good work is sent to review at most `risk` (0..1) of the
    time within `horizon` sets; by bisection on the exact chance.
    """

    def is_enough(hundredths: int) -> bool:
        watch = LapseWatch(
            acceptable_rate=acceptable_rate,
            inadequate_rate=inadequate_rate,
            horizon=horizon,
            threshold=hundredths / 100,
        )
        return float(walk(watch, [watch.usual] * horizon, [acceptable_rate]).declared[-1, 0]) <= risk

    return round((bisect_left(range(1, 5000), True, key=is_enough) + 1) / 100, 2)


def run_lengths(rule: CompetenceRule, rates: Sequence[float]) -> tuple[float, ...]:
    """Mean sets to an alarm at each true rate (0..1, ends excluded), starting from an empty sum.

    The sum of the chances to be without alarm after 0, 1, 2, … sets. Once their ratio has settled the rest is
    a geometric series (D. Brook and D. A. Evans, Biometrika 59 (1972) 539-549, on the same chain).
    """
    true, total = np.asarray(rates, dtype=float), np.zeros(len(rates))
    chances, spread = rule.chances(true, rule.usual), starting(len(rates))
    quiet, ratio = np.ones(len(rates)), np.zeros(len(rates))
    for number in range(_LONGEST_WALK):
        total = total + quiet
        spread, _, _ = step(rule, spread, rule.usual, chances)
        left = spread.chance.sum(axis=0)
        before, ratio = ratio, left / np.maximum(quiet, np.finfo(float).tiny)
        quiet = left
        settled = (np.abs(ratio - before) < _SETTLED) & ((ratio < 1 - _SETTLED) | (number >= _NO_ALARM_YET))
        if np.all(settled | (quiet < _SETTLED)):
            break
    return tuple(float(mean) for mean in total + quiet / np.maximum(1 - ratio, _SETTLED))


def _course_words(decision: Decision, alarmed: Sequence[int]) -> str:
    if not alarmed or decision.status == COMPETENT:
        return decision.words
    return f"In review: work slipped at set {alarmed[-1]}, so the rule starts again. {decision.words}"
