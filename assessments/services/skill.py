from datetime import datetime

from django.db import transaction

from academy.models import Membership
from assessments.models import SkillStanding
from assessments.selectors.grades import marks_that_count
from assessments.selectors.skill import MODEL, day_of, histories
from assessments.services.competence import refresh_competence
from assessments.skill.interface import SkillEstimate
from courses.models import Skill


@transaction.atomic
def refresh_standings(*, student: Membership, now: datetime) -> None:
    """Write the student's standings afresh from every mark that counts; skills without marks lose theirs.

    What the marks decide about competence is recorded in the same transaction.
    """
    Membership.objects.select_for_update().get(pk=student.pk)  # two signatures at once: the later sees both
    marks = list(marks_that_count(student))
    estimates = [MODEL.estimate(history, day=day_of(now)) for history in histories(marks).values()]
    skills = dict(Skill.objects.values_list("code", "pk"))
    rows = [_standing(estimate, student, skills[estimate.skill], now) for estimate in estimates]
    SkillStanding.objects.filter(student=student).exclude(skill__in=[row.skill_id for row in rows]).delete()
    SkillStanding.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["student", "skill"],
        update_fields=["level", "low", "high", "sets", "status", "words", "model_version", "at"],
    )
    refresh_competence(student=student, now=now, marks=marks)


def _standing(estimate: SkillEstimate, student: Membership, skill_id: int, now: datetime) -> SkillStanding:
    return SkillStanding(
        student=student,
        skill_id=skill_id,
        level=estimate.level,
        low=estimate.low,
        high=estimate.high,
        sets=estimate.sets,
        status=estimate.status,
        words=estimate.words,
        model_version=MODEL.version,
        at=now,
    )
