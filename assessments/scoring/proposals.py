"""Proposes one criterion's level from the evidence, and says the arithmetic in one plain sentence."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import singledispatch
from math import fsum

from assessments.scoring.evidence import Evidence
from assessments.scoring.proportions import Proportion, wilson_interval
from assessments.scoring.rules import (
    CountedRule,
    CoveredRule,
    DeviationRule,
    DifferenceRule,
    JudgedRule,
    LinesRule,
    Rule,
    TimedRule,
    WindowRule,
)
from courses.mapping.judging import symmetry

PROPOSED = "proposed"
NOT_ENOUGH = "not_enough"
JUDGED = "judged"


@dataclass(frozen=True, slots=True)
class Proposal:
    """A level with its reason; a person confirms it or overrides it.

    `rate`, `low` and `high` are the share at fault with its interval, 0..1; `value` in `unit` is the measure
    the bands were read from, when that is not the fault rate. `cap` is the highest level a person may give.
    """

    level: int | None
    words: str
    status: str
    faults: int | None = None
    inspected: int | None = None
    rate: float | None = None
    low: float | None = None
    high: float | None = None
    value: float | None = None
    unit: str = ""
    cap: int | None = None


def propose(rule: Rule, evidence: Evidence, *, confidence: float = 0.90) -> Proposal:
    """The level this evidence reaches; with nothing to read, no level and what to do about it."""
    return _propose(rule, evidence, confidence)


@singledispatch
def _propose(rule: Rule, evidence: Evidence, confidence: float) -> Proposal:
    raise TypeError(f"No proposal is written for {type(rule).__name__}.")


@_propose.register
def _counted(rule: CountedRule, evidence: Evidence, confidence: float) -> Proposal:
    if floored := _floored(rule, evidence, confidence):
        return floored
    inspected = len(evidence.fans)
    if not inspected:
        return _not_enough("No fans inspected yet. Inspect the drawn positions")
    faults = evidence.fans_with(rule.faults)
    level = rule.level(faults, inspected)
    found = wilson_interval(faults, inspected, confidence=confidence)
    scaled = "" if inspected == rule.per else f" (as {_number(faults * rule.per / inspected)} in {rule.per})"
    words = (
        f"{faults} {rule.noun} of {inspected}{scaled}: {_percent(faults / inspected)} %, "
        f"{_percent(confidence)} % interval {_percent(found.low)}–{_percent(found.high)} %, band {level}."
    )
    return _on_fans(level, words, found)


@_propose.register
def _window(rule: WindowRule, evidence: Evidence, confidence: float) -> Proposal:
    if floored := _floored(rule, evidence, confidence):
        return floored
    gaps = [fan.gap_mm for fan in evidence.fans if fan.gap_mm is not None]
    if not gaps:
        return _not_enough("No gaps measured yet. Measure the marked fans")
    measured, inside, far = len(gaps), rule.inside(gaps), rule.far_outside(gaps)
    level = rule.level(inside, far, measured)
    if rule.is_scattered(far, measured):
        words = (
            f"{far} of {measured} gaps outside {_range(rule.outer_mm)} mm: {_percent(far / measured)} %, "
            f"over the {_percent(rule.outer_share_at_most)} % allowed, band {level}."
        )
    else:
        words = (
            f"{inside} of {measured} gaps inside {_range(rule.inside_mm)} mm: "
            f"{_percent(inside / measured)} %, band {level}."
        )
    found = wilson_interval(measured - inside, measured, confidence=confidence)
    return _on_fans(level, words, found, 100 * inside / measured, "%")


@_propose.register
def _deviation(rule: DeviationRule, evidence: Evidence, confidence: float) -> Proposal:
    degrees = [fan.direction_deg for fan in evidence.fans if fan.direction_deg is not None]
    # A rule that names faults had every fan looked at for crossing; without them only measured fans were.
    looked_at = len(evidence.fans) if rule.faults else len(degrees)
    crossing = _crossing(rule, evidence)
    if looked_at and rule.is_tangled(crossing, looked_at):
        words = (
            f"{crossing} of {_fans(looked_at)} crossing: {_percent(crossing / looked_at)} %, "
            f"over the {_percent(rule.cross_share_at_most)} % allowed, band 0."
        )
        return _on_fans(0, words, wilson_interval(crossing, looked_at, confidence=confidence))
    if not degrees:
        return _not_enough("No directions measured yet. Measure the marked fans")
    mean = fsum(degrees) / len(degrees)
    level = rule.level(mean, crossing, looked_at)
    words = (
        f"Mean {_number(mean)}° off the local line on {_fans(len(degrees))}, "
        f"{crossing or 'none'} of {looked_at} crossing: band {level}."
    )
    found = wilson_interval(crossing, looked_at, confidence=confidence)
    return _on_fans(level, words, found, mean, "°")


def _crossing(rule: DeviationRule, evidence: Evidence) -> int:
    return sum(
        (fan.direction_deg is not None and fan.direction_deg >= rule.cross_deg)
        or not fan.faults.isdisjoint(rule.faults)
        for fan in evidence.fans
    )


@_propose.register
def _covered(rule: CoveredRule, evidence: Evidence, confidence: float) -> Proposal:
    positions = len(evidence.findings)
    if not positions:
        return _not_enough("No positions inspected yet. Inspect the drawn positions")
    covered = positions - evidence.bare
    level = rule.level(covered, positions)
    words = (
        f"{covered} of {positions} usable lashes covered: {_percent(covered / positions)} %, band {level}."
    )
    found = wilson_interval(evidence.bare, positions, confidence=confidence)
    return _on_fans(level, words, found, 100 * covered / positions, "%")


@_propose.register
def _difference(rule: DifferenceRule, evidence: Evidence, confidence: float) -> Proposal:
    left, right = evidence.left_count, evidence.right_count
    if left is None or right is None:
        return _not_enough(f"Left and right are not both counted yet. Count the {rule.unit} on each eye")
    larger = max(left, right)
    if not larger:
        return _not_enough(f"No {rule.unit} on either eye. Count them again")
    percent = 100 * abs(left - right) / larger
    level = rule.level(percent)
    words = f"{left} {rule.unit} left, {right} right: {_number(percent)} % apart, band {level}."
    if rule.mm_at_most:
        words, level = _with_lengths(rule, evidence, words, level)
    return Proposal(level, words, PROPOSED, value=percent, unit="%")


def _with_lengths(rule: DifferenceRule, evidence: Evidence, words: str, level: int) -> tuple[str, int]:
    """The lower of both bands rules; without a measured pair the counts alone speak."""
    mean_mm = symmetry(evidence.pairs).mean_off_mm
    if mean_mm is None:
        return f"{words} No paired lengths measured.", level
    by_length, pairs = rule.level_of_lengths(float(mean_mm)), len(evidence.pairs)
    told = (
        f"{pairs} pair{'' if pairs == 1 else 's'} {_hundredths(float(mean_mm))} mm apart in length on average"
    )
    both = min(level, by_length)
    ending = "" if level == by_length else f" The lower rules: band {both}."
    return f"{words} {told}, band {by_length}.{ending}", both


@_propose.register
def _timed(rule: TimedRule, evidence: Evidence, confidence: float) -> Proposal:
    if evidence.worked_s is None:
        return _not_enough("No finished time yet. Finish the set")
    if evidence.target_s is None:
        return _not_enough("This set has no target time. Choose a brief with one")
    percent = 100 * evidence.worked_s / evidence.target_s
    level = rule.level(percent)
    worked, target = _number(evidence.worked_s / 60), _number(evidence.target_s / 60)
    words = f"{worked} min of {target}: {_number(percent)} %, band {level}."
    return Proposal(level, words, PROPOSED, value=percent, unit="%")


@_propose.register
def _lines(rule: LinesRule, evidence: Evidence, confidence: float) -> Proposal:
    if evidence.lines_missed is None:
        return _not_enough("The lines are not checked yet. Tick each line as met or missed")
    missed = set(evidence.lines_missed)
    critical = sorted(missed & rule.critical)
    minor = len(missed) - len(critical)
    level = rule.level(minor, len(critical))
    if critical:
        named = ", ".join(code.replace("_", " ") for code in critical)
        words = f"{_lines_of('critical', len(critical))} missed ({named}): band {level}."
    elif minor:
        words = f"{_lines_of('minor', minor)} missed, no critical one: band {level}."
    else:
        words = f"All lines met: band {level}."
    return Proposal(level, words, PROPOSED, value=float(len(missed)), unit="lines")


@_propose.register
def _judged(rule: JudgedRule, evidence: Evidence, confidence: float) -> Proposal:
    seen = sorted(code for code in rule.caps if evidence.fans_with({code}))
    if not seen:
        return Proposal(None, "A person judges this. Choose the level whose description fits.", JUDGED)
    cap = min(rule.caps[code] for code in seen)
    faults, inspected = evidence.fans_with(seen), len(evidence.fans)
    words = f"{' or '.join(seen)} on {faults} of {_fans(inspected)}. Choose the level: {cap} at most."
    return Proposal(None, words, JUDGED, faults=faults, inspected=inspected, cap=cap)


def _floored(rule: CountedRule | WindowRule, evidence: Evidence, confidence: float) -> Proposal | None:
    """Level 0 at once when any fan carries a floor fault, whatever else was or was not measured."""
    faults, inspected = evidence.fans_with(rule.floor_faults), len(evidence.fans)
    if not faults:
        return None
    noun = rule.floor_noun or f"with {' or '.join(sorted(rule.floor_faults))}"
    words = f"{faults} of {_fans(inspected)} {noun}: any one means band 0."
    return _on_fans(0, words, wilson_interval(faults, inspected, confidence=confidence))


def _on_fans(
    level: int, words: str, found: Proportion, value: float | None = None, unit: str = ""
) -> Proposal:
    counts = (found.faults, found.inspected, found.rate, found.low, found.high)
    return Proposal(level, words, PROPOSED, *counts, value=value, unit=unit)


def _not_enough(words: str) -> Proposal:
    return Proposal(None, f"{words}, or judge by eye and give a reason.", NOT_ENOUGH)


def _number(value: float) -> str:
    """Whole numbers bare, others with one decimal."""
    return f"{value:.0f}" if round(value, 9).is_integer() else f"{value:.1f}"


def _hundredths(value: float) -> str:
    """Up to two decimals: a limit of 0.5 is not to be met by 0.46 that reads as 0.5."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _percent(share: float) -> str:
    return _number(100 * share)


def _range(ends: Sequence[float]) -> str:
    return "–".join(f"{end:.1f}" if round(end, 1) == end else f"{end:g}" for end in ends)


def _fans(count: int) -> str:
    return f"{count} fan" if count == 1 else f"{count} fans"


def _lines_of(weight: str, count: int) -> str:
    return f"{count} {weight} line" if count == 1 else f"{count} {weight} lines"
