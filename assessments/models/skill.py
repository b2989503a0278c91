from django.db import models

from academy.models import Academy, AppendOnly, Membership
from assessments.models.marks import Grade
from courses.models import Skill


class ParameterVersion(AppendOnly):
    """What the skill model of one academy holds fixed between refits: severities, difficulties, scales."""

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="parameter_versions")
    number = models.PositiveIntegerField()
    parameters = models.JSONField()  # as skill.parameters writes them
    time_priors = models.JSONField(default=dict)  # by brief, where enough students have timed sets
    sets = models.PositiveIntegerField()  # graded sets that they rest on
    students = models.PositiveIntegerField()
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["academy", "number"], name="parameter_version_number_once")
        ]

    def __str__(self) -> str:
        return f"parameters {self.number}"


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
    # Chances, 0..1: that the level lies below the target, and that no other skill lies further below its own.
    chance_below = models.FloatField(null=True)
    chance_weakest = models.FloatField(null=True)
    model_version = models.CharField(max_length=40)
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["student", "skill"], name="standing_once_per_skill")]

    def __str__(self) -> str:
        return f"skill {self.skill_id} of student {self.student_id}"


class StandingShown(AppendOnly):
    """What the page said of every skill when marks were signed; no later formula can rewrite it."""

    grade = models.OneToOneField(Grade, on_delete=models.PROTECT, related_name="standing_shown")
    figures = models.JSONField()  # skill code -> [level, low, high]
    model_version = models.CharField(max_length=40)

    class Meta:
        verbose_name = "standing as shown"

    def __str__(self) -> str:
        return f"standing shown with grade {self.grade_id}"
