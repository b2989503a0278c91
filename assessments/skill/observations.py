"""What the skill model is told: graded sets of one student, by stable codes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite

from assessments.skill.interface import TOP_LEVEL, SkillInputError


@dataclass(frozen=True, slots=True)
class Grading:
    """One educator's marks of one set.

    `levels`: criterion code -> level 0..4; a criterion that was not marked is absent, never 0.
    `counts`: criterion code -> (faults, inspected). Where a criterion has both, the counts are used and the
    level, which was made from them, is not: the same news must not count twice.
    """

    educator: str
    levels: Mapping[str, int] = field(default_factory=dict)
    counts: Mapping[str, tuple[int, int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for code, level in self.levels.items():
            if level not in range(TOP_LEVEL + 1):
                raise SkillInputError(
                    "level_out_of_range",
                    f"Level {level} of {code} is not on the scale. Give a whole level from 0 to 4.",
                )
        for code, (faults, inspected) in self.counts.items():
            check_count(code, faults, inspected)


@dataclass(frozen=True, slots=True)
class SetRecord:
    """One graded practice set; `day` counts from any fixed epoch. A blind second mark is a second grading."""

    day: float
    brief: str
    gradings: tuple[Grading, ...]

    def __post_init__(self) -> None:
        if not isfinite(self.day):
            raise SkillInputError("bad_day", "A set has no valid date. Correct the date of the set.")
        educators = [grading.educator for grading in self.gradings]
        if len(set(educators)) < len(educators):
            raise SkillInputError(
                "duplicate_grade",
                "One educator has marked the same set twice. Keep the revision that counts, and only that.",
            )


@dataclass(frozen=True, slots=True)
class StudentRecord:
    """Every graded set of one student, in any order."""

    sets: tuple[SetRecord, ...]

    def until(self, day: float) -> tuple[SetRecord, ...]:
        """The sets oldest first. Raises SkillInputError when one lies after `day`."""
        if not isfinite(day):
            raise SkillInputError("bad_day", "The day to estimate for is not a valid date. Give a date.")
        ordered = tuple(sorted(self.sets, key=lambda record: record.day))
        if ordered and ordered[-1].day > day:
            raise SkillInputError(
                "mark_after_day", "A mark lies after the day asked for. Ask for a later day, or leave it out."
            )
        return ordered


def check_count(code: str, faults: int, inspected: int) -> None:
    """Raises SkillInputError for faults that cannot be."""
    if faults < 0 or inspected < 0:
        raise SkillInputError(
            "negative_count",
            f"{faults} faults in {inspected} fans for {code}: a count cannot be below 0. Check the ticks.",
        )
    if faults > inspected:
        raise SkillInputError(
            "faults_exceed_inspected",
            f"{faults} faults recorded for {code} but only {inspected} fans inspected. Check the ticks.",
        )
