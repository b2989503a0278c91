from django.db import models

from academy.models import Membership
from courses.models import Skill


class SkillStanding(models.Model):
    """The newest estimate of one skill of one student, kept so that lists need no arithmetic.

    It can be made afresh from the marks at any time; ``model_version`` says by which formula it was made.
    """

    student = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="standings")
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+")
    level = models.FloatField(null=True)
    low = models.FloatField(null=True)
    high = models.FloatField(null=True)
    sets = models.PositiveIntegerField()
    status = models.CharField(max_length=20)
    words = models.CharField(max_length=240)
    model_version = models.CharField(max_length=40)
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["student", "skill"], name="standing_once_per_skill")]

    def __str__(self) -> str:
        return f"skill {self.skill_id} of student {self.student_id}"
