from django.db import models
from django.db.models import Q

from academy.models import Academy, AppendOnly, Membership
from assessments.models.sets import PracticeSet
from courses.models import Skill


class CompetenceRule(AppendOnly):
    """How an academy declares one gate skill and watches it afterwards; a change is the next version.

    ``programme`` is read by ``scoring.programme_rules.parse_programme``. Without ``made_by``: the default.
    """

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="competence_rules")
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveSmallIntegerField()
    programme = models.JSONField()
    made_by = models.ForeignKey(Membership, on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        verbose_name = "competence rule"
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["academy", "skill", "number"], name="competence_rule_number_once")
        ]

    def __str__(self) -> str:
        return f"version {self.number}"


class MasteryRule(AppendOnly):
    """The mastery conditions of an academy, beside the rules; ``conditions`` is read by ``parse_mastery``."""

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="mastery_rules")
    number = models.PositiveSmallIntegerField()
    conditions = models.JSONField(default=dict)
    made_by = models.ForeignKey(Membership, on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        verbose_name = "mastery rule"
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["academy", "number"], name="mastery_rule_number_once")]

    def __str__(self) -> str:
        return f"version {self.number}"


class CompetenceDecision(AppendOnly):
    """One thing decided about a gate skill, as it stood: later rules and corrections only add to it.

    A withdrawal names the first decision that its sets no longer bear; those made after that fall with it.
    """

    class Kind(models.TextChoices):
        DECLARED = "declared", "declared competent"
        REVIEW = "review", "sent to review"
        WITHDRAWN = "withdrawn", "withdrawn"

    student = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="competence_decisions")
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+")
    rule = models.ForeignKey(CompetenceRule, on_delete=models.PROTECT, related_name="decisions")
    kind = models.CharField(max_length=9, choices=Kind)
    practice_set = models.ForeignKey(PracticeSet, on_delete=models.PROTECT, related_name="+")
    withdraws = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="withdrawal")
    words = models.TextField()
    attained = models.FloatField(null=True)  # chance to declare a student who is not ready over these sets
    at = models.DateTimeField()

    class Meta:
        verbose_name = "competence decision"
        ordering = ["id"]
        indexes = [models.Index(fields=["student", "id"], name="competence_by_student")]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["declared", "review", "withdrawn"]), name="competence_decision_kind"
            ),
            models.CheckConstraint(
                condition=Q(kind="withdrawn", withdraws__isnull=False)
                | ~Q(kind="withdrawn") & Q(withdraws__isnull=True),
                name="competence_withdrawal_names_it",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind}: skill {self.skill_id} of student {self.student_id}"


class CompetenceStanding(models.Model):
    """Where the decision on one gate skill stands now, kept so that lists need no arithmetic."""

    class Status(models.TextChoices):
        COLLECTING = "collecting", "collecting sets"
        COMPETENT = "competent", "competent"
        NOT_YET = "not_yet", "not yet"
        REVIEW = "review", "in review"

    student = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="competence")
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+")
    rule = models.ForeignKey(CompetenceRule, on_delete=models.PROTECT, related_name="+")
    status = models.CharField(max_length=10, choices=Status)
    words = models.TextField()
    sets = models.PositiveIntegerField()
    sets_left = models.PositiveIntegerField(null=True)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["student", "skill"], name="competence_once_per_skill"),
            models.CheckConstraint(
                condition=Q(status__in=["collecting", "competent", "not_yet", "review"]),
                name="competence_known_status",
            ),
        ]

    def __str__(self) -> str:
        return f"skill {self.skill_id} of student {self.student_id}: {self.status}"
