from django.db import models
from django.db.models import Q

from academy.models import AppendOnly, Membership
from assessments.models.inspections import Inspection
from assessments.models.rubrics import Criterion
from assessments.models.sets import PracticeSet
from courses.models import Drill


class MarkingDraft(models.Model):
    """What the educator has entered so far and not yet signed, so that nothing typed is lost."""

    practice_set = models.OneToOneField(PracticeSet, on_delete=models.CASCADE, related_name="draft")
    data = models.JSONField(default=dict)
    saved_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    saved_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"draft for set {self.practice_set_id}"


class Grade(AppendOnly):
    """Signed marks of one set. Revision 1 is the first signature; each later one says why it was needed."""

    practice_set = models.ForeignKey(PracticeSet, on_delete=models.PROTECT, related_name="grades")
    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="grades")
    revision = models.PositiveSmallIntegerField()
    reason = models.TextField(blank=True, max_length=1000)
    note = models.TextField(blank=True, max_length=2000)
    drill = models.ForeignKey(Drill, on_delete=models.PROTECT, null=True, related_name="+")
    drill_count = models.PositiveSmallIntegerField(null=True)
    drill_due_on = models.DateField(null=True)
    score = models.FloatField(null=True)
    gates_passed = models.BooleanField()
    entry = models.JSONField(default=dict)  # what the educator entered, as signed
    verdict = models.JSONField(default=dict)  # gates, time credit and their words, as they stood at signing
    signed_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()

    class Meta:
        verbose_name = "signed grade"
        ordering = ["-revision"]
        constraints = [
            models.UniqueConstraint(fields=["practice_set", "revision"], name="grade_revision_once"),
            models.CheckConstraint(
                condition=Q(revision=1) | ~Q(reason=""), name="grade_correction_has_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"revision {self.revision} of set {self.practice_set_id}"


class Mark(AppendOnly):
    """A level on one criterion, with what was proposed and the arithmetic behind it."""

    grade = models.ForeignKey(Grade, on_delete=models.PROTECT, related_name="marks")
    criterion = models.ForeignKey(Criterion, on_delete=models.PROTECT, related_name="+")
    level = models.PositiveSmallIntegerField()
    proposed = models.PositiveSmallIntegerField(null=True)
    override_reason = models.CharField(max_length=500, blank=True)
    words = models.TextField()
    faults = models.PositiveSmallIntegerField(null=True)
    inspected = models.PositiveSmallIntegerField(null=True)
    value = models.FloatField(null=True)

    class Meta:
        verbose_name = "mark"
        constraints = [
            models.UniqueConstraint(fields=["grade", "criterion"], name="mark_once_per_criterion"),
            models.CheckConstraint(condition=Q(level__range=(0, 4)), name="mark_level_range"),
            models.CheckConstraint(
                condition=Q(faults__isnull=True)
                | Q(inspected__isnull=False, faults__lte=models.F("inspected")),
                name="mark_faults_within_inspected",
            ),
            models.CheckConstraint(
                condition=Q(proposed__isnull=True) | Q(proposed=models.F("level")) | ~Q(override_reason=""),
                name="mark_override_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"level {self.level}"
