"""How one criterion reads evidence as a level 0..4. Every threshold is data held in the rubric."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NoReturn

TOP_LEVEL = 4

rule_kinds: dict[str, str] = {
    "counted": "Counted on inspected fans",
    "window": "Lid gap inside a window",
    "deviation": "Degrees off the local line",
    "covered": "Share of usable lashes covered",
    "difference": "Difference between left and right",
    "timed": "Time against the target",
    "lines": "Lines met or missed",
    "judged": "Judged by a person",
}


class RuleError(ValueError):
    """A rule in a rubric cannot be read; `field` names the entry to correct."""

    def __init__(self, code: str, message: str, field: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.field = field


@dataclass(frozen=True, slots=True)
class CountedRule:
    """`at_most[i]` faulty fans per `per` inspected reach level 4, 3, 2, 1; more is level 0."""

    faults: frozenset[str]
    per: int
    at_most: tuple[int, ...]
    floor_faults: frozenset[str] = frozenset()
    noun: str = "with a fault"
    floor_noun: str = ""

    def level(self, faults: int, inspected: int) -> int:
        """Limits are scaled to the fans inspected, to the nearest whole fan and down at a half.

        So 1 in 20 reads as 2 in 40, and one lash left bare among 40 does not cost a level elsewhere.
        """
        return _level_at_most(faults, [self.limit(limit, inspected) for limit in self.at_most])

    def limit(self, at_most: int, inspected: int) -> int:
        return (2 * at_most * inspected + self.per - 1) // (2 * self.per)


@dataclass(frozen=True, slots=True)
class WindowRule:
    """Shares of measured lid gaps inside `inside_mm`; both windows include their ends."""

    inside_mm: tuple[float, float]
    outer_mm: tuple[float, float]
    share_at_least: tuple[float, ...]
    outer_share_at_most: float
    floor_faults: frozenset[str] = frozenset()
    floor_noun: str = ""

    def inside(self, gaps_mm: Iterable[float]) -> int:
        low, high = self.inside_mm
        return sum(low <= gap <= high for gap in gaps_mm)

    def far_outside(self, gaps_mm: Iterable[float]) -> int:
        low, high = self.outer_mm
        return sum(not low <= gap <= high for gap in gaps_mm)

    def is_scattered(self, far_outside: int, measured: int) -> bool:
        return far_outside / measured > self.outer_share_at_most

    def level(self, inside: int, far_outside: int, measured: int) -> int:
        if self.is_scattered(far_outside, measured):
            return 0
        return _level_at_least(inside / measured, self.share_at_least)


@dataclass(frozen=True, slots=True)
class DeviationRule:
    """Mean degrees off the local line; a fan at `cross_deg` or more, or with one of `faults`, crosses."""

    mean_at_most: tuple[float, ...]
    cross_deg: float
    cross_share_at_most: float
    faults: frozenset[str] = frozenset()

    def is_tangled(self, crossing: int, looked_at: int) -> bool:
        return crossing / looked_at > self.cross_share_at_most

    def level(self, mean_deg: float, crossing: int, looked_at: int) -> int:
        if self.is_tangled(crossing, looked_at):
            return 0
        level = _level_at_most(mean_deg, self.mean_at_most)
        return min(level, TOP_LEVEL - 1) if crossing else level


@dataclass(frozen=True, slots=True)
class CoveredRule:
    share_at_least: tuple[float, ...]

    def level(self, covered: int, positions: int) -> int:
        return _level_at_least(covered / positions, self.share_at_least)


@dataclass(frozen=True, slots=True)
class DifferenceRule:
    """Counts of both eyes in per cent apart, lengths of paired fans in mean mm apart: the lower level rules.

    Without `mm_at_most` only counts are judged. Level 0, different styles on the two eyes, is only ever a
    person's judgement.
    """

    percent_at_most: tuple[float, ...]
    unit: str = "fans"
    mm_at_most: tuple[float, ...] = ()

    def level(self, percent: float) -> int:
        return _level_at_most(percent, self.percent_at_most)

    def level_of_lengths(self, mean_mm: float) -> int:
        return _level_at_most(mean_mm, self.mm_at_most)


@dataclass(frozen=True, slots=True)
class TimedRule:
    percent_at_most: tuple[float, ...]

    def level(self, percent: float) -> int:
        return _level_at_most(percent, self.percent_at_most)


@dataclass(frozen=True, slots=True)
class LinesRule:
    minor_at_most: tuple[int, ...]
    critical: frozenset[str]

    def level(self, minor: int, critical: int) -> int:
        return 0 if critical else _level_at_most(minor, self.minor_at_most)


@dataclass(frozen=True, slots=True)
class JudgedRule:
    """A person chooses the level; a fan carrying a fault of `caps` limits it to that level."""

    caps: Mapping[str, int] = field(default_factory=dict)


Rule = (
    CountedRule
    | WindowRule
    | DeviationRule
    | CoveredRule
    | DifferenceRule
    | TimedRule
    | LinesRule
    | JudgedRule
)


def parse_rule(kind: str, data: Mapping[str, object]) -> Rule:
    """Read one criterion's rule; raises RuleError with a sentence for whoever edits the rubric."""
    if kind not in _READERS:
        raise RuleError(
            "unknown_kind",
            f'There is no kind of rule "{kind}". Choose one of {", ".join(rule_kinds)}.',
            "kind",
        )
    entries = _Entries(kind, data)
    rule = _READERS[kind](entries)
    entries.reject_unread()
    return rule


def _level_at_most(value: float, limits: Sequence[float]) -> int:
    """4 within the first limit, one less for each limit passed."""
    return TOP_LEVEL - sum(value > limit for limit in limits)


def _level_at_least(value: float, limits: Sequence[float]) -> int:
    return TOP_LEVEL - sum(value < limit for limit in limits)


class _Entries:
    """One rule's data, read entry by entry; what nobody reads is a spelling mistake."""

    def __init__(self, kind: str, data: Mapping[str, object]) -> None:
        self._kind = kind
        self._data = data
        self._read: set[str] = set()

    def fail(self, code: str, name: str, sentence: str) -> NoReturn:
        raise RuleError(code, f'{rule_kinds[self._kind]}: "{name}" {sentence}', name)

    def reject_unread(self) -> None:
        for name in sorted(set(self._data) - self._read):
            known = ", ".join(sorted(self._read))
            self.fail(
                "unknown_field", name, f"is not known here. Remove it, or correct it to one of {known}."
            )

    def has(self, name: str) -> bool:
        self._read.add(name)
        return name in self._data

    def value(self, name: str) -> object:
        if not self.has(name):
            self.fail("missing_field", name, "is missing. Add it.")
        return self._data[name]

    def number(self, name: str, low: float, high: float = math.inf) -> float:
        return self._number(name, self.value(name), low, high)

    def whole(self, name: str, low: float, high: float = math.inf) -> int:
        return self._whole(name, self.number(name, low, high))

    def numbers(self, name: str, count: int, high: float = math.inf) -> tuple[float, ...]:
        """`count` numbers from 0 to `high`."""
        given = self.value(name)
        if not isinstance(given, list | tuple) or len(given) != count:
            self.fail("wrong_length", name, f"must be a list of {count} numbers.")
        return tuple(self._number(name, each, 0, high) for each in given)

    def rising(self, name: str, count: int, high: float = math.inf) -> tuple[float, ...]:
        numbers = self.numbers(name, count, high)
        if list(numbers) != sorted(numbers):
            self.fail("not_monotone", name, "must not fall: each lower level allows as much or more.")
        return numbers

    def falling_shares(self, name: str, count: int) -> tuple[float, ...]:
        shares = self.numbers(name, count, 1)
        if list(shares) != sorted(shares, reverse=True):
            self.fail("not_monotone", name, "must not rise: each lower level asks for as much or less.")
        return shares

    def rising_whole(self, name: str, count: int, high: float = math.inf) -> tuple[int, ...]:
        return tuple(self._whole(name, each) for each in self.rising(name, count, high))

    def range_mm(self, name: str) -> tuple[float, float]:
        low, high = self.numbers(name, 2)
        if low >= high:
            self.fail("not_monotone", name, "must be two gaps in mm, the smaller first.")
        return low, high

    def codes(self, name: str, *, required: bool = False) -> frozenset[str]:
        given = self.value(name) if required or self.has(name) else []
        if not isinstance(given, list | tuple) or not all(isinstance(each, str) and each for each in given):
            self.fail("not_a_list_of_codes", name, 'must be a list of codes, such as ["STK", "BBY"].')
        if required and not given:
            self.fail("no_codes", name, "is empty. Name at least one code.")
        return frozenset(given)

    def text(self, name: str, default: str) -> str:
        given = self.value(name) if self.has(name) else default
        if not isinstance(given, str) or given.strip() != given or (name in self._data and not given):
            self.fail("not_text", name, "must be words, without blanks at the ends.")
        return given

    def levels(self, name: str) -> dict[str, int]:
        given = self.value(name) if self.has(name) else {}
        if not isinstance(given, Mapping) or not all(isinstance(code, str) and code for code in given):
            self.fail("not_a_mapping", name, 'must pair fault codes with levels, such as {"HVY": 1}.')
        return {
            code: self._whole(name, self._number(name, level, 0, TOP_LEVEL)) for code, level in given.items()
        }

    def _number(self, name: str, given: object, low: float, high: float) -> float:
        if isinstance(given, bool) or not isinstance(given, int | float) or not math.isfinite(given):
            self.fail("not_a_number", name, f"has {given!r} where a number belongs.")
        if not low <= given <= high:
            limits = f"from {low:g} to {high:g}" if math.isfinite(high) else f"of {low:g} or more"
            self.fail("out_of_range", name, f"has {given:g}. Give a number {limits}.")
        return given

    def _whole(self, name: str, given: float) -> int:
        if given != int(given):
            self.fail("not_a_whole_number", name, f"has {given:g}. Give a whole number.")
        return int(given)


def _read_counted(entries: _Entries) -> CountedRule:
    per = entries.whole("per", 1)
    return CountedRule(
        faults=entries.codes("faults", required=True),
        per=per,
        at_most=entries.rising_whole("at_most", 4, per),
        floor_faults=entries.codes("floor_faults"),
        noun=entries.text("noun", "with a fault"),
        floor_noun=entries.text("floor_noun", ""),
    )


def _read_window(entries: _Entries) -> WindowRule:
    inside, outer = entries.range_mm("inside_mm"), entries.range_mm("outer_mm")
    if not outer[0] <= inside[0] < inside[1] <= outer[1]:
        entries.fail("not_monotone", "outer_mm", "must hold the whole of inside_mm.")
    return WindowRule(
        inside_mm=inside,
        outer_mm=outer,
        share_at_least=entries.falling_shares("share_at_least", 3),
        outer_share_at_most=entries.number("outer_share_at_most", 0, 1),
        floor_faults=entries.codes("floor_faults"),
        floor_noun=entries.text("floor_noun", ""),
    )


def _read_deviation(entries: _Entries) -> DeviationRule:
    return DeviationRule(
        mean_at_most=entries.rising("mean_at_most", 3, 180),
        cross_deg=entries.number("cross_deg", 1, 180),
        cross_share_at_most=entries.number("cross_share_at_most", 0, 1),
        faults=entries.codes("faults"),
    )


def _read_covered(entries: _Entries) -> CoveredRule:
    return CoveredRule(entries.falling_shares("share_at_least", 4))


def _read_difference(entries: _Entries) -> DifferenceRule:
    return DifferenceRule(
        entries.rising("percent_at_most", 3, 100),
        entries.text("unit", "fans"),
        entries.rising("mm_at_most", 3, 20) if entries.has("mm_at_most") else (),
    )


def _read_timed(entries: _Entries) -> TimedRule:
    return TimedRule(entries.rising("percent_at_most", 4))


def _read_lines(entries: _Entries) -> LinesRule:
    return LinesRule(entries.rising_whole("minor_at_most", 3), entries.codes("critical"))


def _read_judged(entries: _Entries) -> JudgedRule:
    return JudgedRule(entries.levels("caps"))


_READERS: dict[str, Callable[[_Entries], Rule]] = {
    "counted": _read_counted,
    "window": _read_window,
    "deviation": _read_deviation,
    "covered": _read_covered,
    "difference": _read_difference,
    "timed": _read_timed,
    "lines": _read_lines,
    "judged": _read_judged,
}
