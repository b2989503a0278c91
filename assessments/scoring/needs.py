"""What one student needs to train again: raised by what is seen, closed by evidence, never by a click."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from assessments.scoring.need_rules import (
    BY_HAND,
    FAILED_GATE,
    IDLE,
    LAPSE,
    MOST_PRIORITY,
    RETEST,
    WEAK,
    NeedRules,
)
from assessments.scoring.retests import Retest, next_retest
from assessments.scoring.wording import percent

SETTLED = 0.5  # a weak skill has recovered when its level reaches the target likelier than not
COUNT_CLOSES = {WEAK, BY_HAND}  # what is about gates or time takes a graded set


@dataclass(frozen=True, slots=True)
class SkillSet:
    """One graded set that marked the skill. `passed`: every mark of the skill reaches the target. `failed`:
    the gate that its marks missed, in words; empty when none."""

    day: date
    grade: int
    signed_at: datetime
    passed: bool
    failed: str = ""


@dataclass(frozen=True, slots=True)
class SkillFacts:
    """`sets` oldest first. `level`, `chance_below`: expected now, None without marks. `fades_on`: when it is
    expected to fall below the target without practice. `drilled_at`: when a counted drill last closed a need.
    """

    code: str
    name: str
    is_gate: bool
    target: float
    sets: tuple[SkillSet, ...] = ()
    level: float | None = None
    chance_below: float | None = None
    fades_on: date | None = None
    in_review: bool = False
    drilled_at: datetime | None = None

    @property
    def newest(self) -> SkillSet | None:
        return self.sets[-1] if self.sets else None


@dataclass(frozen=True, slots=True)
class OpenNeed:
    """`counted`: clean ones recorded since it was raised; `count`: the last record of them."""

    key: int
    skill: str
    kind: str
    raised_at: datetime
    reason: str = ""
    due_on: date | None = None
    count_target: int | None = None
    counted: int = 0
    count: int | None = None


@dataclass(frozen=True, slots=True)
class Raise:
    skill: str
    kind: str
    reason: str
    priority: int
    due_on: date


@dataclass(frozen=True, slots=True)
class Close:
    """`grade` or `count`: the evidence."""

    key: int
    grade: int | None = None
    count: int | None = None


@dataclass(frozen=True, slots=True)
class Renew:
    """A later set shows the same need: its words and its date follow the newest set."""

    key: int
    reason: str
    due_on: date


@dataclass(frozen=True, slots=True)
class Needs:
    """What changes; every other open need stays as it is."""

    raised: tuple[Raise, ...]
    renewed: tuple[Renew, ...]
    closed: tuple[Close, ...]


def decide_needs(
    skills: Sequence[SkillFacts], open_needs: Sequence[OpenNeed], rules: NeedRules, *, today: date
) -> Needs:
    """A skill has one need at a time, the gravest, beside those asked for by hand and those still open.

    What it decides, decided again, changes nothing.
    """
    known = {each.code: each for each in skills}
    closed = [each for need in open_needs if (each := _closed(need, known.get(need.skill), rules, today))]
    gone = {each.key for each in closed}
    left = [need for need in open_needs if need.key not in gone]
    renewed = [new for need in left if (new := _renewed(need, known.get(need.skill), rules))]
    just_closed = {(need.skill, need.kind) for need in open_needs if need.key in gone}
    raised = [want for want in _wanted(skills, left, rules, today) if _pair(want) not in just_closed]
    return Needs(tuple(raised), tuple(renewed), tuple(closed))


def _wanted(
    skills: Sequence[SkillFacts], left: Sequence[OpenNeed], rules: NeedRules, today: date
) -> Iterator[Raise]:
    held = {(need.skill, need.kind) for need in left}
    busy = {need.skill for need in left if need.kind != BY_HAND}
    for raised in _grave(skills, rules, today):
        if _pair(raised) not in held:
            busy.add(raised.skill)
            yield raised
    weak = [_weak(facts, rules, today) for facts in sorted(skills, key=_need_rank)]
    still_weak = sum(need.kind == WEAK for need in left)
    later = [each for each in weak if each and each.skill not in busy][: max(0, rules.most_weak - still_weak)]
    regates = [_regate(facts, rules, today) for facts in skills]
    retests = [_retest(facts, rules, today) for facts in skills]
    for each in (*later, *regates, *_refresher(skills, rules, today), *retests):
        if each and each.skill not in busy:
            busy.add(each.skill)
            yield each


def _grave(skills: Sequence[SkillFacts], rules: NeedRules, today: date) -> Iterator[Raise]:
    for facts in skills:
        if each := _failed_gate(facts, rules) or _lapse(facts, rules, today):
            yield each


def _pair(raised: Raise) -> tuple[str, str]:
    return raised.skill, raised.kind


def _failed_gate(facts: SkillFacts, rules: NeedRules) -> Raise | None:
    newest = facts.newest
    if newest is None or not newest.failed:
        return None
    priority = rules.priorities[FAILED_GATE]
    return Raise(facts.code, FAILED_GATE, newest.failed, priority, _within(rules, newest.day))


def _lapse(facts: SkillFacts, rules: NeedRules, today: date) -> Raise | None:
    if not facts.in_review:
        return None
    reason = "Work slipped after the skill was declared competent, so it is in review."
    return Raise(facts.code, LAPSE, reason, rules.priorities[LAPSE], _within(rules, today))


def _weak(facts: SkillFacts, rules: NeedRules, today: date) -> Raise | None:
    newest = facts.newest
    if newest is None or len(facts.sets) < rules.weak_sets or (facts.chance_below or 0.0) < rules.certainty:
        return None
    if facts.drilled_at is not None and newest.signed_at <= facts.drilled_at:
        return None  # the drill is done; only a new set shows whether it helped
    priority = min(MOST_PRIORITY, rules.priorities[WEAK] + facts.is_gate)
    return Raise(facts.code, WEAK, _weak_words(facts), priority, _within(rules, today))


def _weak_words(facts: SkillFacts) -> str:
    return (
        f"About {facts.level or 0.0:.1f} of 4, and below the target of {facts.target:g} with a certainty of "
        f"{percent(facts.chance_below or 0.0)}."
    )


def _regate(facts: SkillFacts, rules: NeedRules, today: date) -> Raise | None:
    limit = rules.regate_days if facts.is_gate else rules.regate_other_days
    idle = _idle_days(facts, today)
    if idle is None or idle < limit:
        return None
    kind = "a gate skill" if facts.is_gate else "the skill"
    reason = f"Not marked for {idle} days. After {limit}, {kind} is marked again before live work."
    priority = min(MOST_PRIORITY, rules.priorities[IDLE] + facts.is_gate)
    return Raise(facts.code, IDLE, reason, priority, _within(rules, today))


def _refresher(skills: Sequence[SkillFacts], rules: NeedRules, today: date) -> Iterator[Raise]:
    """One, on the skill furthest below its target, gate skills first: a single set marks the others too."""
    marked = [each for each in skills if each.newest]
    if not marked:
        return
    idle = min((today - each.newest.day).days for each in marked if each.newest)
    if idle < rules.refresher_days:
        return
    neediest = min(marked, key=_need_rank)
    reason = f"No graded set for {idle} days; a refresher is asked for after {rules.refresher_days}."
    yield Raise(neediest.code, IDLE, reason, rules.priorities[IDLE], _within(rules, today))


def _need_rank(facts: SkillFacts) -> tuple[bool, float, str]:
    gap = facts.target - (facts.level or 0.0)
    return not (facts.is_gate and gap > 0), -gap, facts.code


def _retest(facts: SkillFacts, rules: NeedRules, today: date) -> Raise | None:
    """At the next step of the ladder, or sooner when the level is expected to fade before."""
    retest = _next_retest(facts, rules)
    if facts.newest is None or not facts.newest.passed or (rules.retest_gates_only and not facts.is_gate):
        return None
    priority = rules.priorities[RETEST]
    if retest and today >= retest.opens_on:
        reason = f"Retest {retest.days} days after the target was reached on {_words(retest.since)}."
        return Raise(facts.code, RETEST, reason, priority, max(today, retest.due_on))
    fades, rested = facts.fades_on, (today - facts.newest.day).days
    if fades and rules.retest_days and rested >= rules.retest_days[0] and fades <= _within(rules, today):
        reason = (
            f"Without practice the level is expected to fall below the target by {_words(fades)} (guide)."
        )
        return Raise(facts.code, RETEST, reason, priority, max(today, fades))
    return None


def _next_retest(facts: SkillFacts, rules: NeedRules) -> Retest | None:
    return next_retest([(each.day, each.passed) for each in facts.sets], rules.retest_days)


def _closed(need: OpenNeed, facts: SkillFacts | None, rules: NeedRules, today: date) -> Close | None:
    """By a set that was signed after the need was raised and shows it met, or by a counted drill."""
    newest = facts.newest if facts else None
    if facts and newest and newest.signed_at > need.raised_at and _is_met(need, facts, newest, rules, today):
        return Close(need.key, grade=newest.grade)
    if need.kind in COUNT_CLOSES and need.count_target and need.counted >= need.count_target:
        return Close(need.key, count=need.count)
    return None


def _renewed(need: OpenNeed, facts: SkillFacts | None, rules: NeedRules) -> Renew | None:
    newest = facts.newest if facts else None
    if facts is None or newest is None or newest.signed_at <= need.raised_at:
        return None
    words = {FAILED_GATE: newest.failed, WEAK: _weak_words(facts)}.get(need.kind, "")
    due = _within(rules, newest.day)
    return Renew(need.key, words, due) if words and (words, due) != (need.reason, need.due_on) else None


def _is_met(need: OpenNeed, facts: SkillFacts, newest: SkillSet, rules: NeedRules, today: date) -> bool:
    idle = (today - newest.day).days
    met = {
        FAILED_GATE: not newest.failed,
        LAPSE: not facts.in_review,
        WEAK: (facts.chance_below or 0.0) < SETTLED,
        IDLE: idle < min(rules.refresher_days, rules.regate_days, rules.regate_other_days),
        RETEST: _retest(facts, rules, today) is None,
        BY_HAND: newest.passed,
    }
    return met[need.kind]


def _idle_days(facts: SkillFacts, today: date) -> int | None:
    return (today - facts.newest.day).days if facts.newest else None


def _within(rules: NeedRules, today: date) -> date:
    return today + timedelta(days=rules.drill_days)


def _words(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
