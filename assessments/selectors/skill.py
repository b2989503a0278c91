from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from academy.models import Membership
from assessments.models import Mark
from assessments.selectors.grades import marks_that_count
from assessments.skill.interface import Observation, SkillHistory, SkillModel
from assessments.skill.recency import RecencyModel
from assessments.skill.weakest import SkillNeed, SkillTarget, order_by_need
from courses.models import Skill

# The level asked of every skill: "sound". Data of the programme, once there are programmes.
TARGET_LEVEL = 3.0
# Levels are shown to a tenth, so 2.95 is shown as, and counts as, reaching 3.
BELOW_TARGET = TARGET_LEVEL - 0.05
MODEL: SkillModel = RecencyModel()

_SECONDS_A_DAY = 86_400
_TREND_SETS = 12
# A criterion of weight 0 still says something about its skill when it is the only one that does.
_LEAST_WEIGHT = 1e-6


@dataclass(frozen=True, slots=True)
class TrendPoint:
    """The estimate as it stood right after one set."""

    label: str
    level: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SkillLine:
    """One skill of one student: where it stands, what it is, how it came there."""

    need: SkillNeed
    meaning: str
    trend: tuple[TrendPoint, ...]

    @property
    def level(self) -> float:
        """The estimate to the tenth that is shown."""
        return round(cast(float, self.need.estimate.level), 1)

    @property
    def gap(self) -> float:
        """Levels missing to the target, as shown; negative above it."""
        return round(self.need.target - self.level, 1)

    @property
    def is_below(self) -> bool:
        return self.gap > 0


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a student stands: skills weakest first; ``unmarked`` names those no set has shown yet."""

    lines: tuple[SkillLine, ...]
    unmarked: tuple[str, ...]
    sets: int


def day_of(instant: datetime) -> float:
    """Days since 1970, with their fraction: the time scale of the skill model."""
    return instant.timestamp() / _SECONDS_A_DAY


def stand_of(student: Membership, *, now: datetime, marks: Iterable[Mark] | None = None) -> Stand:
    """Estimates on the day of ``now``, weakest first, with the trend of the last 12 sets.

    Two queries, one when the ``marks`` that count are given.
    """
    marks = list(marks_that_count(student) if marks is None else marks)
    known = histories(marks)
    skills = list(Skill.objects.all())
    marked = [skill for skill in skills if skill.code in known]
    needs = order_by_need(
        [MODEL.estimate(known[skill.code], day=day_of(now)) for skill in marked],
        [SkillTarget(skill.code, skill.name, skill.is_gate, TARGET_LEVEL) for skill in marked],
    )
    labels = _labels(marks)
    meanings = {skill.code: skill.meaning for skill in skills}
    return Stand(
        lines=tuple(
            SkillLine(need, meanings[need.skill], _trend(known[need.skill], labels)) for need in needs
        ),
        unmarked=tuple(skill.name for skill in skills if skill.code not in known),
        sets=len(labels),
    )


def histories(marks: Iterable[Mark]) -> dict[str, SkillHistory]:
    """Marks that count, by skill code."""
    found: dict[str, list[Observation]] = {}
    for mark in marks:
        weight = max(float(mark.criterion.weight), _LEAST_WEIGHT)
        found.setdefault(mark.criterion.skill.code, []).append(Observation(_day(mark), mark.level, weight))
    return {skill: SkillHistory(skill, tuple(observations)) for skill, observations in found.items()}


def _day(mark: Mark) -> float:
    return day_of(cast(datetime, mark.grade.practice_set.finished_at))  # a graded set has its clock


def _labels(marks: Sequence[Mark]) -> dict[float, str]:
    return {_day(mark): f"set {mark.grade.practice_set.number}" for mark in marks}


def _trend(history: SkillHistory, labels: dict[float, str]) -> tuple[TrendPoint, ...]:
    days = sorted({observation.day for observation in history.observations})[-_TREND_SETS:]
    return tuple(_trend_point(history, day, labels[day]) for day in days)


def _trend_point(history: SkillHistory, day: float, label: str) -> TrendPoint:
    until = tuple(observation for observation in history.observations if observation.day <= day)
    estimate = MODEL.estimate(SkillHistory(history.skill, until), day=day)
    level, low, high = cast(tuple[float, float, float], (estimate.level, estimate.low, estimate.high))
    return TrendPoint(label, level, low, high)
