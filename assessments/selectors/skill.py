from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from academy.models import Membership
from assessments.models import Mark, ParameterVersion
from assessments.selectors.fault_drivers import FaultDriver, fault_drivers, faults_seen, latest_inspections
from assessments.selectors.grades import marks_that_count
from assessments.selectors.parameters import newest_parameters, skill_model
from assessments.selectors.skill_records import day_of, day_of_set, record_of_marks
from assessments.skill.fading import Fading
from assessments.skill.filter import Belief
from assessments.skill.interface import SkillEstimate
from assessments.skill.model import StateSpaceModel
from assessments.skill.observations import StudentRecord
from assessments.skill.weak import WeakSkill, WeakSkills
from assessments.skill.weakest import SkillTarget
from courses.models import Fault, Skill

# The level asked of every skill: "sound". Data of the programme, once there are programmes.
TARGET_LEVEL = 3.0
# Levels are shown to a tenth, so 2.95 is shown as, and counts as, reaching 3.
BELOW_TARGET = TARGET_LEVEL - 0.05

_TREND_SETS = 12


@dataclass(frozen=True, slots=True)
class Reckoning:
    """One student's marks as read by the model on one day; ``skills`` are those with marks, by need.

    ``last``: the belief right after the last set.
    """

    record: StudentRecord
    model: StateSpaceModel
    weak: WeakSkills
    last: Belief
    day: float

    @property
    def skills(self) -> tuple[WeakSkill, ...]:
        return self.weak.skills

    def fading(self, ahead: Sequence[float]) -> dict[str, Fading]:
        """By skill with marks: what is expected so many days ahead without practice."""
        targets = [weak.target for weak in self.skills]
        found = self.model.fading(self.last, targets, day=self.day, ahead=ahead)
        return {each.target.skill: each for each in found}


@dataclass(frozen=True, slots=True)
class TrendPoint:
    """The estimate as it stood right after one set."""

    label: str
    level: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SkillLine:
    """One skill of one student: where it stands, what it is, how it came there, what holds it down.

    ``today``: where the trend has faded to by now; None on the day of the last set.
    """

    weak: WeakSkill
    meaning: str
    trend: tuple[TrendPoint, ...]
    today: TrendPoint | None
    driver: FaultDriver | None
    is_weakest: bool

    @property
    def name(self) -> str:
        return self.weak.target.name

    @property
    def is_gate(self) -> bool:
        return self.weak.target.is_gate

    @property
    def estimate(self) -> SkillEstimate:
        return self.weak.estimate

    @property
    def level(self) -> float:
        """The estimate to the tenth that is shown."""
        return round(cast(float, self.estimate.level), 1)

    @property
    def gap(self) -> float:
        """Levels missing to the target, as shown; negative above it."""
        return round(self.weak.target.target - self.level, 1)

    @property
    def is_below(self) -> bool:
        return self.gap > 0


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a student stands: skills by need; ``unmarked`` names those no set has shown yet.

    ``verdict``: which skill is the weakest, or that none can be called so, in a sentence. ``marks``
    and ``faults`` are what it rests on, for the rest of the page.
    """

    lines: tuple[SkillLine, ...]
    unmarked: tuple[str, ...]
    sets: int
    verdict: str
    version: ParameterVersion | None
    marks: tuple[Mark, ...]
    faults: tuple[Fault, ...]


def stand_of(student: Membership, *, now: datetime) -> Stand:
    """Estimates on the day of ``now`` by need, with the trend; six queries, three without marks."""
    marks = list(marks_that_count(student))
    skills, version = list(Skill.objects.all()), newest_parameters(student.academy)
    found = reckoning(marks, skills, version, now=now)
    faults = faults_seen(latest_inspections(marks))
    trends, drivers = _trends(found, _labels(marks)), fault_drivers(faults)
    meanings = {skill.code: skill.meaning for skill in skills}
    return Stand(
        lines=tuple(_line(weak, found, meanings, trends, drivers, now) for weak in found.skills),
        unmarked=tuple(skill.name for skill in skills if skill.code not in trends),
        sets=len(found.record.sets),
        verdict=found.weak.words,
        version=version,
        marks=tuple(marks),
        faults=faults,
    )


def reckoning(
    marks: Sequence[Mark], skills: Sequence[Skill], version: ParameterVersion | None, *, now: datetime
) -> Reckoning:
    """What marks say on the day of ``now``; no query when they come as ``marks_that_count`` gives them."""
    model = skill_model(version, skills, (mark.criterion for mark in marks))
    record = record_of_marks(marks)
    targets = [SkillTarget(skill.code, skill.name, skill.is_gate, TARGET_LEVEL) for skill in skills]
    # A set whose clock runs ahead of the server's is read on its own day.
    day = max([day_of(now), *(one.day for one in record.sets)])
    weak, last = model.weak_skills_and_belief(record, targets, day=day)
    return Reckoning(record, model, weak, last, day)


def _line(
    weak: WeakSkill,
    found: Reckoning,
    meanings: Mapping[str, str],
    trends: Mapping[str, tuple[TrendPoint, ...]],
    drivers: Mapping[str, FaultDriver],
    now: datetime,
) -> SkillLine:
    code = weak.target.skill
    idle_days = day_of(now) - max(one.day for one in found.record.sets)
    return SkillLine(
        weak=weak,
        meaning=meanings[code],
        trend=trends[code],
        today=_point("today", weak.estimate) if idle_days >= 1 else None,
        driver=drivers.get(code),
        is_weakest=code == found.weak.weakest,
    )


def _trends(found: Reckoning, labels: Mapping[float, str]) -> dict[str, tuple[TrendPoint, ...]]:
    """By skill, for skills with marks: the level after each of the last 12 sets since its first mark."""
    points: dict[str, list[TrendPoint]] = {}
    for day, estimates in found.model.trend(found.record)[-_TREND_SETS:]:
        for estimate in estimates:
            if estimate.level is not None:
                points.setdefault(estimate.skill, []).append(_point(labels[day], estimate))
    return {code: tuple(row) for code, row in points.items()}


def _point(label: str, estimate: SkillEstimate) -> TrendPoint:
    level, low, high = cast(tuple[float, float, float], (estimate.level, estimate.low, estimate.high))
    return TrendPoint(label, level, low, high)


def _labels(marks: Sequence[Mark]) -> dict[float, str]:
    return {day_of_set(mark): f"set {mark.grade.practice_set.number}" for mark in marks}
