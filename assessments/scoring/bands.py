"""A rule's bands in words, so that nobody has to read thresholds as data."""

from collections.abc import Iterable, Sequence
from functools import singledispatch
from itertools import pairwise

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

NEVER = "not reached by counting"


def band_words(rule: Rule) -> tuple[str, ...]:
    """What puts a set on level 0, 1, 2, 3 and 4, in this order; empty where only a person can say."""
    return tuple(_words(rule))


@singledispatch
def _words(rule: Rule) -> Sequence[str]:
    raise TypeError(f"No bands are written for {type(rule).__name__}.")


@_words.register
def _counted(rule: CountedRule) -> Sequence[str]:
    at_most, per = rule.at_most, rule.per
    lower = [_counts(before + 1, limit, per, rule.noun) for before, limit in pairwise(at_most)]
    worst = NEVER if at_most[-1] >= per else f"{at_most[-1] + 1} or more of {per} {rule.noun}"
    best = f"none of {per} {rule.noun}" if not at_most[0] else _counts(0, at_most[0], per, rule.noun)
    return [_or_any(worst, rule.floor_faults), *reversed(lower), best]


@_words.register
def _window(rule: WindowRule) -> Sequence[str]:
    inside = f"inside {_range_mm(rule.inside_mm)}"
    shares = [f"{_percent(share)} or more {inside}" for share in rule.share_at_least]
    fewest = f"under {_percent(rule.share_at_least[-1])} {inside}"
    worst = f"over {_percent(rule.outer_share_at_most)} outside {_range_mm(rule.outer_mm)}"
    return [_or_any(worst, rule.floor_faults), fewest, *reversed(shares)]


@_words.register
def _deviation(rule: DeviationRule) -> Sequence[str]:
    first, *rest = (f"{limit:g}°" for limit in rule.mean_at_most)
    means = [f"mean over {low} to {high}" for low, high in pairwise((first, *rest))]
    crossing = " or ".join([*sorted(rule.faults), f"{rule.cross_deg:g}° and more off"])
    worst = f"over {_percent(rule.cross_share_at_most)} crossing ({crossing})"
    return [worst, f"mean over {rest[-1]}", *reversed(means), f"mean {first} or less, none crossing"]


@_words.register
def _covered(rule: CoveredRule) -> Sequence[str]:
    shares = [f"{_percent(share)} or more covered" for share in rule.share_at_least]
    return [f"under {_percent(rule.share_at_least[-1])} covered", *reversed(shares)]


@_words.register
def _difference(rule: DifferenceRule) -> Sequence[str]:
    return ["", *_up_to(rule.percent_at_most, "apart")]


@_words.register
def _timed(rule: TimedRule) -> Sequence[str]:
    return _up_to(rule.percent_at_most, "of the target")


@_words.register
def _lines(rule: LinesRule) -> Sequence[str]:
    most = rule.minor_at_most
    lower = [_counts_plain(before + 1, limit) for before, limit in pairwise(most)]
    best = f"at most {most[0]} other missed" if most[0] else "every line met"
    return ["a critical line missed", f"{most[-1] + 1} or more others missed", *reversed(lower), best]


@_words.register
def _judged(rule: JudgedRule) -> Sequence[str]:
    capped = {level: sorted(code for code, cap in rule.caps.items() if cap == level) for level in range(5)}
    return [f"at most this with {' or '.join(codes)}" if codes else "" for codes in capped.values()]


def _up_to(limits: Sequence[float], noun: str) -> list[str]:
    """From the band above the last limit to the one below the first."""
    between = [f"over {low:g} to {high:g} % {noun}" for low, high in pairwise(limits)]
    return [f"over {limits[-1]:g} % {noun}", *reversed(between), f"up to {limits[0]:g} % {noun}"]


def _counts(low: int, high: int, per: int, noun: str) -> str:
    if low > high:
        return NEVER
    return f"{low if low == high else f'{low} to {high}'} of {per} {noun}"


def _counts_plain(low: int, high: int) -> str:
    if low > high:
        return NEVER
    return f"{low if low == high else f'{low} to {high}'} other missed"


def _or_any(words: str, faults: Iterable[str]) -> str:
    named = [f"any {code}" for code in sorted(faults)]
    return ", or ".join(named if named and words == NEVER else [words, *named])


def _percent(share: float) -> str:
    return f"{100 * share:g} %"


def _range_mm(ends: tuple[float, float]) -> str:
    return f"{ends[0]:g} to {ends[1]:g} mm"
