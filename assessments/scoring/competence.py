"""Whether a student's sets show competence under a rule, said in words with the risk attained."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assessments.scoring.characteristics import Attained, attained, clean_sets_left, risks
from assessments.scoring.competence_rules import CompetenceRule, Conditions, FanSequential, SetResult
from assessments.scoring.wording import counted, percent

NO_DATA = "no_data"
UNDECIDED = "undecided"
COMPETENT = "competent"
NOT_YET = "not_yet"


@dataclass(frozen=True, slots=True)
class Decision:
    """Where a rule stands after a history.

    `sets`: graded sets that counted, `skipped`: sets without what the rule reads, and sets after "not yet"
    without teaching. `declared_at`: place in the history, from 1. `restarts`: fresh starts after "not yet".
    `sets_left`: clean sets to a declaration, 0 when declared, None when out of reach.
    `progress`: 0..1 of the way there. `attained`: the risks over these sets, with their educators, briefs and
    restarts.
    """

    status: str
    words: str
    sets: int
    skipped: int
    declared_at: int | None
    restarts: int
    sets_left: int | None
    progress: float
    attained: Attained


def decide(rule: CompetenceRule, history: Sequence[SetResult]) -> Decision:
    """Apply the rule to graded sets, oldest first; sets after a declaration are not read.

    Fails count at the risk-adjusted weight of their educator and brief. A few milliseconds the first time,
    for the exact risk over this sequence.
    """
    run = _Run(rule)
    for place, result in enumerate(history, start=1):
        run.take(place, result)
        if run.status == COMPETENT:
            break
    risk = attained(rule, tuple(run.conditions))
    left = 0 if run.status == COMPETENT else clean_sets_left(rule, run.evidence)
    return Decision(
        status=run.status,
        words=_words(run, risk, left),
        sets=len(run.conditions),
        skipped=run.skipped,
        declared_at=run.declared_at,
        restarts=run.restarts,
        sets_left=left,
        progress=_progress(rule, run, left),
        attained=risk,
    )


class _Run:
    """One pass through a history."""

    def __init__(self, rule: CompetenceRule) -> None:
        self.rule = rule
        self.status = NO_DATA
        self.evidence = 0.0
        self.failed = self.inspected = self.skipped = self.restarts = 0
        self.declared_at: int | None = None
        self.conditions: list[Conditions] = []

    def take(self, place: int, result: SetResult) -> None:
        outcome = self.rule.outcome(result)
        if outcome is None or (self.status == NOT_YET and not result.retaught):
            self.skipped += 1
            return
        if self.status == NOT_YET:
            self.evidence, self.restarts = 0.0, self.restarts + 1
        self.conditions.append(result.conditions)
        self.failed, self.inspected = self.failed + outcome, self.inspected + result.inspected
        moved = self.rule.move(np.array([self.evidence]), np.array([outcome]), result.conditions)
        self.evidence, verdict = float(moved[0]), int(self.rule.verdict(moved)[0])
        self.status = {1: COMPETENT, 0: UNDECIDED, -1: NOT_YET}[verdict]
        self.declared_at = place if verdict > 0 else None


def _progress(rule: CompetenceRule, run: _Run, left: int | None) -> float:
    if run.status == COMPETENT:
        return 1.0
    whole = clean_sets_left(rule)
    if not whole or left is None or run.status == NOT_YET:
        return 0.0
    return max(0.0, 1 - left / whole)


def _words(run: _Run, risk: Attained, left: int | None) -> str:
    sentences = [_verdict_words(run, left)]
    if run.status == COMPETENT:
        sentences.append(_risk_words(run.rule, risk))
    elif len(run.conditions) > run.rule.horizon:
        sentences.append(_past_horizon_words(run.rule, risk))
    if run.restarts:
        sentences.append(f"The test was started again {_times(run.restarts)}; the risk above counts that.")
    if run.skipped:
        sentences.append(f"{counted(run.skipped, 'set')} did not count.")
    return " ".join(sentences)


def _verdict_words(run: _Run, left: int | None) -> str:
    sets, least = len(run.conditions), clean_sets_left(run.rule)
    if run.status == NO_DATA:
        return f"No graded sets yet; a decision at these risks needs at least {least}."
    if run.status == COMPETENT:
        return f"Competent after {counted(sets, 'set')}: {_tally(run)}."
    if run.status == NOT_YET:
        return f"Not yet: {_tally(run)}. Teach first; the test starts again with the set after that."
    if least and sets < least:
        return f"{counted(sets, 'set')} graded; a decision at these risks needs at least {least}."
    more = f" {left} more without a fault would decide it." if left else ""
    return f"Undecided after {counted(sets, 'set')}: {_tally(run)}.{more}"


def _tally(run: _Run) -> str:
    if isinstance(run.rule, FanSequential):
        return f"{counted(run.failed, 'fault')} in {run.inspected} fans"
    return f"{run.failed} of {len(run.conditions)} failed"


def _risk_words(rule: CompetenceRule, risk: Attained) -> str:
    stated = risks(rule, sets=rule.horizon)
    return (
        f"Over these {counted(risk.sets, 'set')} and their educators, "
        f"{rule.performer(rule.inadequate_rate)} would be declared {percent(risk.false_declared)} of the "
        "time; the rule states "
        f"{percent(stated.false_declared)} within {stated.sets}."
    )


def _past_horizon_words(rule: CompetenceRule, risk: Attained) -> str:
    return (
        f"The stated risk holds for {counted(rule.horizon, 'set')}; over these {risk.sets} it has grown to "
        f"{percent(risk.false_declared)}."
    )


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
