"""A competence rule as an owner looks at it: its curve, the curve of three in a row, and what they mean."""

from dataclasses import dataclass

from assessments.scoring.characteristics import Risks, curve, risks
from assessments.scoring.competence_rules import CompetenceRule, FanSequential
from assessments.scoring.lapse import watch_risks
from assessments.scoring.programme_rules import THREE_IN_A_ROW, ProgrammeRule, parse_rule
from assessments.scoring.wording import percent

SET_RATES = tuple(round(0.02 * step, 2) for step in range(1, 41))
FAN_RATES = tuple(round(0.005 * step, 3) for step in range(1, 51))
SET_ROWS = (0.05, 0.10, 0.20, 0.30, 0.40, 0.50, 0.60)
FAN_ROWS = (0.01, 0.02, 0.05, 0.10, 0.15, 0.20)


@dataclass(frozen=True, slots=True)
class PicturePoint:
    """At a true `rate` (0..1): the share declared, the set by which half are, the share of three in a row."""

    rate: float
    declared: float
    median_sets: int | None
    three: float | None


@dataclass(frozen=True, slots=True)
class RulePicture:
    """`points` run along the curve, `rows` are the numbers behind it; `ready`, `unready`: the rates set."""

    points: tuple[PicturePoint, ...]
    rows: tuple[PicturePoint, ...]
    ready: PicturePoint
    unready: PicturePoint
    counts_fans: bool
    risks: Risks
    watch_words: str
    three_words: str


def rule_picture(programme: ProgrammeRule) -> RulePicture:
    """Exact within the horizon of the rule; a few milliseconds, cached by the rule."""
    rule = programme.rule
    counts_fans = isinstance(rule, FanSequential)
    ready, unready = _points(rule, (rule.acceptable_rate, rule.inadequate_rate))
    return RulePicture(
        points=_points(rule, FAN_RATES if counts_fans else SET_RATES),
        rows=_points(rule, FAN_ROWS if counts_fans else SET_ROWS),
        ready=ready,
        unready=unready,
        counts_fans=counts_fans,
        risks=risks(rule),
        watch_words=watch_risks(programme.watch).words if programme.watch else "",
        three_words=_three_words(rule, unready),
    )


def _points(rule: CompetenceRule, rates: tuple[float, ...]) -> tuple[PicturePoint, ...]:
    found = curve(rule, rates=rates)
    three: tuple[float | None, ...] = (None,) * len(rates)
    if not isinstance(rule, FanSequential):  # a rate of fans is no rate of sets
        three = curve(parse_rule(THREE_IN_A_ROW), rates=rates, sets=rule.horizon).declared
    return tuple(
        PicturePoint(*each) for each in zip(rates, found.declared, found.median_sets, three, strict=True)
    )


def _three_words(rule: CompetenceRule, unready: PicturePoint) -> str:
    if unready.three is None:
        return ""
    return (
        f"Three passes in a row alone would declare {rule.performer(unready.rate)} "
        f"{percent(unready.three)} of the time within {rule.horizon} sets: who tries often "
        "enough has a lucky three."
    )
