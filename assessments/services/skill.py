from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from academy.models import Membership
from assessments.models import Grade, Mark, ParameterVersion, SkillStanding, StandingShown
from assessments.selectors.corrections import correction_in
from assessments.selectors.grades import marks_that_count
from assessments.selectors.parameters import newest_parameters
from assessments.selectors.skill import Reckoning, reckoning
from assessments.services.competence import refresh_competence
from assessments.services.needs import needs_from_marks
from assessments.skill.weak import WeakSkill
from courses.models import Skill
from courses.selectors.catalogue import every_skill

_FIGURES = (
    *("level", "low", "high", "sets", "status", "words"),
    *("chance_below", "chance_weakest", "model_version", "at"),
)


@transaction.atomic(savepoint=False)
def refresh_standings(*, student: Membership, now: datetime, signed: Grade | None = None) -> None:
    """Write the student's standings afresh from every mark that counts; skills without marks lose theirs.

    What the marks decide about competence and needs is recorded in the same transaction, and with ``signed``
    marks what the student is shown from now on.
    """
    Membership.objects.select_for_update().get(pk=student.pk)  # two signatures at once: the later sees both
    marks = list(marks_that_count(student))
    version = newest_parameters(student.academy)
    skills = every_skill()
    found = write_standings(student, marks, skills, version, now)
    if signed:
        _keep_shown(signed, found)
    refresh_competence(student=student, now=now, marks=marks, correction=correction_in(version))
    needs_from_marks(student, marks, skills, found, now)


def write_standings(
    student: Membership,
    marks: Sequence[Mark],
    skills: Sequence[Skill],
    version: ParameterVersion | None,
    now: datetime,
) -> Reckoning:
    """Two queries, inside the caller's transaction."""
    found = reckoning(marks, skills, version, now=now)
    keys = {skill.code: skill.pk for skill in skills}
    rows = [_standing(weak, student, keys, found, now) for weak in found.skills]
    SkillStanding.objects.filter(student=student).exclude(skill__in=[row.skill_id for row in rows]).delete()
    SkillStanding.objects.bulk_create(
        rows, update_conflicts=True, unique_fields=["student", "skill"], update_fields=_FIGURES
    )
    return found


def _standing(
    weak: WeakSkill, student: Membership, keys: dict[str, int], found: Reckoning, now: datetime
) -> SkillStanding:
    estimate = weak.estimate
    return SkillStanding(
        student=student,
        skill_id=keys[estimate.skill],
        level=estimate.level,
        low=estimate.low,
        high=estimate.high,
        sets=estimate.sets,
        status=estimate.status,
        words=estimate.words,
        chance_below=weak.chance_below,
        chance_weakest=weak.chance_weakest,
        model_version=found.model.version,
        at=now,
    )


def _keep_shown(grade: Grade, found: Reckoning) -> None:
    estimates = [weak.estimate for weak in found.skills]
    StandingShown.objects.create(
        grade=grade,
        figures={each.skill: [each.level, each.low, each.high] for each in estimates},
        model_version=found.model.version,
    )
