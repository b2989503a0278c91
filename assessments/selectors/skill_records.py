"""Signed marks as the skill model reads them."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from itertools import groupby
from typing import cast

from academy.models import Academy
from assessments.models import Criterion, Mark, SecondLevel, SecondMark
from assessments.selectors.grades import counting_marks
from assessments.skill.interface import TOP_LEVEL
from assessments.skill.likelihood import count_scale_from_bands
from assessments.skill.observations import Grading, SetRecord, StudentRecord
from assessments.skill.parameters import CountScale, Parameters
from assessments.skill.parameters import Criterion as ModelCriterion
from assessments.skill.parameters import Skill as ModelSkill
from courses.models import Skill

UNFITTED = Parameters(version="defaults-1", skills=(), criteria=())
COUNTED = "counted"
_SECONDS_A_DAY = 86_400


def day_of(instant: datetime) -> float:
    """Days since 1970, with their fraction: the time scale of the skill model."""
    return instant.timestamp() / _SECONDS_A_DAY


def day_of_set(mark: Mark) -> float:
    return day_of(cast(datetime, mark.grade.practice_set.finished_at))  # a graded set has its clock


def record_of_marks(marks: Iterable[Mark], seconds: Mapping[int, Grading] | None = None) -> StudentRecord:
    """One student's marks, those of a set together, as ``marks_that_count`` gives them.

    With ``seconds``, by set, a set that was marked twice has both gradings.
    """
    sets = [tuple(group) for _, group in groupby(marks, key=lambda mark: mark.grade_id)]
    return StudentRecord(
        tuple(_set_record(group, (seconds or {}).get(group[0].grade.practice_set_id)) for group in sets)
    )


def model_skills(skills: Iterable[Skill]) -> tuple[ModelSkill, ...]:
    return tuple(ModelSkill(skill.code, skill.is_speed) for skill in skills)


def model_criteria(criteria: Iterable[Criterion]) -> tuple[ModelCriterion, ...]:
    """Each once, with the bands of the last version given."""
    found = {criterion_key(row): row for row in criteria}
    return tuple(
        ModelCriterion(key, row.skill.code, count=_count_scale(row)) for key, row in sorted(found.items())
    )


def criterion_key(criterion: Criterion) -> str:
    """The same in every version of a rubric, whatever the criterion is called there."""
    return f"{criterion.skill.code}.{criterion.code}"


def marks_by_student(ids: Sequence[int]) -> dict[int, list[Mark]]:
    """The marks that count of each, oldest set first; three queries."""
    found: dict[int, list[Mark]] = {}
    for mark in counting_marks().filter(grade__practice_set__student__in=ids):
        found.setdefault(mark.grade.practice_set.student_id, []).append(mark)
    return found


def second_gradings(academy: Academy) -> dict[int, Grading]:
    """What blind second markers gave, by set. It tells educators apart and reaches no student's figures; one
    query."""
    rows = SecondLevel.objects.filter(
        grade__second_mark__practice_set__academy=academy, grade__second_mark__state=SecondMark.State.DONE
    ).select_related("grade__second_mark", "criterion__skill")
    levels: dict[tuple[int, int], dict[str, int]] = {}
    for row in rows:
        key = (row.grade.second_mark.practice_set_id, row.grade.signed_by_id)
        levels.setdefault(key, {})[criterion_key(row.criterion)] = row.level
    return {set_id: Grading(str(educator), given) for (set_id, educator), given in levels.items()}


def _set_record(marks: Sequence[Mark], second: Grading | None) -> SetRecord:
    first = Grading(
        educator=str(marks[0].grade.signed_by_id),
        levels={criterion_key(mark.criterion): mark.level for mark in marks},
        counts={criterion_key(mark.criterion): _count(mark) for mark in marks if _is_counted(mark)},
    )
    gradings = (first,) if second is None or second.educator == first.educator else (first, second)
    return SetRecord(day_of_set(marks[0]), str(marks[0].grade.practice_set.brief_id), gradings)


def _count(mark: Mark) -> tuple[int, int]:
    return mark.faults or 0, mark.inspected or 0


def _is_counted(mark: Mark) -> bool:
    """Whether the count says all that the level says: not where a person or a floor has overruled it."""
    criterion = mark.criterion
    has_floor = bool(criterion.rule.get("floor_faults"))
    return (
        criterion.kind == COUNTED and bool(mark.inspected) and mark.level == mark.proposed and not has_floor
    )


def _count_scale(criterion: Criterion) -> CountScale | None:
    if criterion.kind != COUNTED:
        return None
    at_most = tuple(criterion.rule["at_most"])
    return _scale(at_most, criterion.rule["per"]) if len(at_most) == TOP_LEVEL else None


@lru_cache(maxsize=512)
def _scale(at_most: tuple[int, ...], per: int) -> CountScale:
    return count_scale_from_bands(at_most, per, UNFITTED.thresholds)
