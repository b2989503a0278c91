"""The thresholds of a rule as small number fields, and back."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Any

from django import forms

WHOLE, NUMBER, PERCENT = "whole", "number", "percent"


@dataclass(frozen=True, slots=True)
class RuleInput:
    """One number of a rule: ``key`` in the rule's data, ``place`` when the data there is a list."""

    key: str
    place: int | None
    label: str
    scale: str = NUMBER
    is_optional: bool = False

    @property
    def name(self) -> str:
        return self.key if self.place is None else f"{self.key}_{self.place}"

    def field(self) -> forms.Field:
        if self.scale == WHOLE:
            return forms.IntegerField(
                label=self.label, required=not self.is_optional, min_value=0, max_value=1000
            )
        most = Decimal(100) if self.scale == PERCENT else Decimal(1000)
        return forms.DecimalField(
            label=self.label,
            required=not self.is_optional,
            min_value=Decimal(0),
            max_value=most,
            max_digits=6,
            decimal_places=2,
        )

    def shown(self, rule: Mapping[str, Any]) -> float | int | None:
        """What the field starts with; a share of 1 is shown in per cent."""
        given = rule.get(self.key)
        if self.place is not None:
            given = given[self.place] if isinstance(given, list) and len(given) > self.place else None
        if given is None:
            return None
        number = round(100 * given, 2) if self.scale == PERCENT else given
        return int(number) if number == int(number) else number

    def kept(self, typed: Decimal | int) -> float | int:
        if self.scale == PERCENT:
            return float(Decimal(typed) / 100)
        return int(typed) if typed == int(typed) else float(typed)


def _steps(
    key: str, count: int, label: str, scale: str = NUMBER, *, is_optional: bool = False
) -> tuple[RuleInput, ...]:
    """Thresholds from level 4 down."""
    return tuple(
        RuleInput(key, place, f"Level {4 - place}: {label}", scale, is_optional) for place in range(count)
    )


RULE_INPUTS: dict[str, tuple[RuleInput, ...]] = {
    "counted": (
        RuleInput("per", None, "Thresholds are for so many fans", WHOLE),
        *_steps("at_most", 4, "at most so many at fault", WHOLE),
    ),
    "window": (
        RuleInput("inside_mm", 0, "Window from, mm"),
        RuleInput("inside_mm", 1, "Window to, mm"),
        *_steps("share_at_least", 3, "at least so many % inside the window", PERCENT),
        RuleInput("outer_mm", 0, "Far outside below, mm"),
        RuleInput("outer_mm", 1, "Far outside above, mm"),
        RuleInput("outer_share_at_most", None, "Level 0 when over so many % are far outside", PERCENT),
    ),
    "deviation": (
        *_steps("mean_at_most", 3, "mean at most so many degrees off"),
        RuleInput("cross_deg", None, "A fan crosses from so many degrees off"),
        RuleInput("cross_share_at_most", None, "Level 0 when over so many % cross", PERCENT),
    ),
    "covered": _steps("share_at_least", 4, "at least so many % covered", PERCENT),
    "difference": (
        *_steps("percent_at_most", 3, "at most so many % apart"),
        *_steps("mm_at_most", 3, "pairs at most so many mm apart in length", is_optional=True),
    ),
    "timed": _steps("percent_at_most", 4, "at most so many % of the target"),
    "lines": _steps("minor_at_most", 3, "at most so many other lines missed", WHOLE),
    "judged": (),
}


def rule_from(kind: str, old: Mapping[str, Any], typed: Mapping[str, Any]) -> dict[str, Any]:
    """The rule's data with the typed numbers in place; whatever has no field stays as it was.

    What may be left empty and is goes.
    """
    inputs = RULE_INPUTS[kind]
    rule = {key: old[key] for key in old if key not in {each.key for each in inputs}}
    for each in inputs:
        if each.is_optional and typed.get(each.name) is None:
            continue
        if each.place is None:
            rule[each.key] = each.kept(typed[each.name])
        else:
            rule.setdefault(each.key, []).append(each.kept(typed[each.name]))
    return rule


def order_problems(kind: str, typed: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """(field, sentence) where a lower level asks for more than a higher one."""
    steps = [each for each in RULE_INPUTS[kind] if each.label.startswith("Level") and each.place is not None]
    for upper, lower in pairwise(steps):
        high, low = typed.get(upper.name), typed.get(lower.name)
        if upper.key != lower.key or high is None or low is None:
            continue
        high, low = float(high), float(low)
        if upper.key == "share_at_least" and low > high:
            yield (
                lower.name,
                f"{low:g} is more than the {high:g} of the level above. Lower levels ask for less.",
            )
        if upper.key != "share_at_least" and low < high:
            yield (
                lower.name,
                f"{low:g} is less than the {high:g} of the level above. Lower levels allow more.",
            )
