"""Everything the skill model holds fixed between two refits, with its version; read and written as JSON."""

import json
from bisect import bisect_left
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from math import exp, isfinite, log1p
from typing import Any

from assessments.skill.interface import TOP_LEVEL, SkillInputError

DAYS_A_MONTH = 365.25 / 12
# The course of learning in stretches: steps from set to set up to the 1st, 3rd, 6th, 10th and 19th.
COURSE_ENDS = (1, 3, 6, 10, 19)
# The set by which those who learn early are furthest ahead.
LEAD_SETS = 5
# How far from the middle a fault curve that bends has done most of its bending, logits.
BEND_REACH = 3.0
# States beside the abilities: the slope and the lead.
TRENDS = 2


@dataclass(frozen=True, slots=True)
class Dynamics:
    """How ability starts, grows, wanders and fades; logits, and logits squared where a spread is meant.

    Ability of skill k before set n: theta_k, which starts at N(`start`, `start_common` 11' + `start_own` I),
    gains slope * ln((n + practice) / (n - 1 + practice)) from one set to the next with the student's own
    slope ~ N(`gain`, `gain_variance`), and wanders by `step_*` a set and `idle_*` a day. On one day it is
    moved by `day_common` (all skills together) and `day_own`. `course`: what all students gain more, or less,
    than that a set, by stretch of COURSE_ENDS; people rarely learn along a logarithm. Some learn early and
    some late: after n sets a student is ahead by lead * n / LEAD_SETS * exp(1 - n / LEAD_SETS) in all skills,
    with the student's own lead ~ N(0, `lead_variance`).

    Guide, not measured on lash work: half of a gain is lost in `fade_days_accuracy` (6.5 months) or
    `fade_days_speed` (13 months) without practice (P. Tatel and P. Ackerman, Psychological Bulletin 2025,
    abstract); a constant half-life is our assumption. A weekly refit moves both by one factor, as the marks
    after breaks say. People differ: the loss has standard deviation `fade_spread` times itself.
    """

    start: float = -1.0
    start_common: float = 0.80
    start_own: float = 0.25
    step_common: float = 0.01
    step_own: float = 0.01
    idle_common: float = 0.0005
    idle_own: float = 0.0005
    day_common: float = 0.10
    day_own: float = 0.06
    gain: float = 0.80
    gain_variance: float = 0.15
    lead_variance: float = 0.05
    practice: float = 2.0
    fade_days_accuracy: float = 6.5 * DAYS_A_MONTH
    fade_days_speed: float = 13 * DAYS_A_MONTH
    fade_spread: float = 0.5
    course: tuple[float, ...] = (0.0,) * len(COURSE_ENDS)

    def __post_init__(self) -> None:
        signed = {"start", "gain"}
        if len(self.course) != len(COURSE_ENDS) or not all(isfinite(step) for step in self.course):
            raise _bad("the course of learning does not have its five stretches")
        for item in fields(self):
            if item.name == "course":
                continue
            value = getattr(self, item.name)
            if not isfinite(value) or (value < 0 and item.name not in signed):
                raise _bad(f"{item.name} is {value:g}")
        if min(self.practice, self.fade_days_accuracy, self.fade_days_speed, self.start_own) <= 0:
            raise _bad("a half-life, the practice offset or the spread of beginners is 0")

    def growth(self, step: int) -> tuple[float, float]:
        """From set number `step` to the next: how much each unit of the slope and of the lead adds."""
        return log1p(1 / (step - 1 + self.practice)), _ahead(step) - _ahead(step - 1)

    def extra_gain(self, step: int) -> float:
        """Of every student from set number `step` to the next; 0 after the last stretch."""
        stretch = stretch_of(step)
        return 0.0 if stretch is None else self.course[stretch]


def _ahead(sets: int) -> float:
    return sets / LEAD_SETS * exp(1 - sets / LEAD_SETS)


def stretch_of(step: int) -> int | None:
    """Where the step from set number `step` to the next lies among COURSE_ENDS; None after them."""
    place = bisect_left(COURSE_ENDS, step)
    return place if place < len(COURSE_ENDS) else None


@dataclass(frozen=True, slots=True)
class CountScale:
    """Faults of one counted criterion at ability x on the day: logit of the fault share p = `base` -
    `slope` * x - `bend` * sqrt(BEND_REACH^2 + x^2), which never rises with x.

    Correlation of faults within one set: r = `dispersion` + `rise` * p, Var = n p (1-p) (1 + r (n-1)). With
    `rise` 0 beta-binomial; with `dispersion` 0 near the negative binomial, where the rate itself varies.
    `at_most`: the rubric's bands, most faults of `per` fans for level 4, 3, 2, 1; empty when not known.
    """

    base: float = -2.9
    slope: float = 0.6
    dispersion: float = 0.02
    at_most: tuple[int, ...] = ()
    per: int = 40
    bend: float = 0.0
    rise: float = 0.0

    def __post_init__(self) -> None:
        falls = isfinite(self.base) and self.slope > abs(self.bend)
        if not (falls and self.dispersion >= 0 and self.rise >= 0 and self.dispersion + self.rise < 1):
            raise _bad("a count scale is off its range")


@dataclass(frozen=True, slots=True)
class Criterion:
    """One rubric criterion: `offset` in logits, more is harder; `count` when its fans are counted."""

    code: str
    skill: str
    offset: float = 0.0
    count: CountScale | None = None


@dataclass(frozen=True, slots=True)
class Skill:
    """`code` is stable for years, whatever the skill is called in a rubric; speed fades more slowly."""

    code: str
    is_speed: bool = False


@dataclass(frozen=True, slots=True)
class Facet:
    """Severity of an educator or difficulty of a brief: logits, variance, and the marks it rests on.

    `steps`: how far an educator's own thresholds lie from the common ones once severity is taken out, sum 0:
    some keep to the middle levels, some use the ends.
    """

    value: float = 0.0
    variance: float = 0.25
    marks: int = 0
    steps: tuple[float, ...] = (0.0,) * TOP_LEVEL

    def __post_init__(self) -> None:
        if len(self.steps) != TOP_LEVEL or not all(isfinite(step) for step in self.steps):
            raise _bad("the four steps of an educator's levels are not given")


UNKNOWN = Facet()


@dataclass(frozen=True, slots=True)
class Parameters:
    """One parameter version. An educator or brief not listed is taken as average with standard deviation 0.5.

    `thresholds`: the four steps between levels 0..4, logits, sum 0. `notes`: sentences for the people who
    compare educators.
    """

    version: str
    skills: tuple[Skill, ...]
    criteria: tuple[Criterion, ...]
    thresholds: tuple[float, ...] = (-1.90, -0.65, 0.60, 1.95)
    educators: Mapping[str, Facet] = field(default_factory=dict)
    briefs: Mapping[str, Facet] = field(default_factory=dict)
    dynamics: Dynamics = Dynamics()
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if len(self.thresholds) != TOP_LEVEL or not all(isfinite(step) for step in self.thresholds):
            raise _bad("there must be four thresholds")
        if len(set(self.skill_codes)) < len(self.skills):
            raise _bad("a skill is listed twice")
        if len({criterion.code for criterion in self.criteria}) < len(self.criteria):
            raise _bad("a criterion is listed twice")
        for criterion in self.criteria:
            if criterion.skill not in self.skill_codes:
                raise _bad(f"criterion {criterion.code} belongs to the unknown skill {criterion.skill}")

    @property
    def skill_codes(self) -> tuple[str, ...]:
        return tuple(skill.code for skill in self.skills)

    def covering(self, skills: Iterable[Skill], criteria: Iterable[Criterion]) -> "Parameters":
        """The same parameters with skills and criteria they did not know yet added as given; none is lost."""
        known_skills, known = set(self.skill_codes), {criterion.code for criterion in self.criteria}
        return replace(
            self,
            skills=(*self.skills, *(skill for skill in skills if skill.code not in known_skills)),
            criteria=(*self.criteria, *(item for item in criteria if item.code not in known)),
        )

    def to_json(self) -> str:
        return json.dumps(asdict(self), sort_keys=True)


def parameters_from_json(text: str) -> Parameters:
    """Raises SkillInputError when the text is not what `to_json` writes."""
    try:
        return _parameters(json.loads(text))
    except (TypeError, KeyError, AttributeError, ValueError) as error:
        if isinstance(error, SkillInputError):
            raise
        raise _bad("they are not in the form in which they are written") from error


def _parameters(data: dict[str, Any]) -> Parameters:
    return Parameters(
        version=str(data["version"]),
        skills=tuple(Skill(**row) for row in data["skills"]),
        criteria=tuple(_criterion(row) for row in data["criteria"]),
        thresholds=tuple(float(step) for step in data["thresholds"]),
        educators={code: Facet(**_with_tuples(row)) for code, row in data["educators"].items()},
        briefs={code: Facet(**_with_tuples(row)) for code, row in data["briefs"].items()},
        dynamics=Dynamics(**_with_tuples(data["dynamics"])),
        notes=tuple(data["notes"]),
    )


def _criterion(row: dict[str, Any]) -> Criterion:
    count = row["count"]
    if count is None:
        return Criterion(**row)
    return Criterion(**{**row, "count": CountScale(**_with_tuples(count))})


def _with_tuples(row: dict[str, Any]) -> dict[str, Any]:
    """JSON knows no tuples. What an older version did not write keeps its default."""
    return {name: tuple(value) if isinstance(value, list) else value for name, value in row.items()}


def _bad(what: str) -> SkillInputError:
    return SkillInputError(
        "bad_parameters",
        f"The parameters of the skill model cannot be used: {what}. Refit them, or restore an older version.",
    )
