from uuid import uuid4

from django.db import models
from django.db.models import Q

from academy.models import Academy, AppendOnly, Membership
from assessments.models.marks import Grade
from assessments.models.rubrics import Criterion
from assessments.models.second_marks import SecondMark


class AgreementReport(AppendOnly):
    """What the second marks up to ``until`` said about an academy's educators, as computed in the background.

    ``second_marks`` and ``newest_at`` say which data it rests on. ``findings`` is read by
    ``scoring.agreement_report.read_findings``.
    """

    academy = models.ForeignKey(Academy, on_delete=models.CASCADE, related_name="agreement_reports")
    until = models.DateTimeField()
    second_marks = models.PositiveIntegerField()
    newest_at = models.DateTimeField(null=True)
    findings = models.JSONField()
    computed_at = models.DateTimeField()

    class Meta:
        verbose_name = "agreement report"
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"agreement on {self.second_marks} sets"


class StandardSet(models.Model):
    """One graded set that every educator marks from the same findings, to compare and to talk about."""

    uid = models.UUIDField(unique=True, default=uuid4, editable=False)
    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="standard_sets")
    grade = models.ForeignKey(Grade, on_delete=models.PROTECT, related_name="+")
    chosen_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    why = models.CharField(max_length=300, blank=True)
    chosen_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-chosen_at", "-pk"]
        constraints = [models.UniqueConstraint(fields=["grade"], name="standard_set_once_per_grade")]

    def __str__(self) -> str:
        return f"standard set {self.pk}"


class StandardMark(AppendOnly):
    """What one educator gave; ``levels`` are an exercise and never reach the student."""

    standard_set = models.ForeignKey(StandardSet, on_delete=models.PROTECT, related_name="marks")
    educator = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()

    class Meta:
        verbose_name = "mark of a standard set"
        ordering = ["signed_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["standard_set", "educator"], name="standard_mark_once_each")
        ]

    def __str__(self) -> str:
        return f"educator {self.educator_id} on standard set {self.standard_set_id}"


class StandardLevel(AppendOnly):
    mark = models.ForeignKey(StandardMark, on_delete=models.PROTECT, related_name="levels")
    criterion = models.ForeignKey(Criterion, on_delete=models.PROTECT, related_name="+")
    level = models.PositiveSmallIntegerField()

    class Meta:
        verbose_name = "level on a standard set"
        constraints = [
            models.UniqueConstraint(fields=["mark", "criterion"], name="standard_level_once_per_criterion"),
            models.CheckConstraint(condition=Q(level__range=(0, 4)), name="standard_level_range"),
        ]

    def __str__(self) -> str:
        return f"level {self.level}"


class DiscussionNote(AppendOnly):
    """What educators agreed when they talked about a difference: on a second mark or a standard set."""

    second_mark = models.ForeignKey(SecondMark, on_delete=models.PROTECT, null=True, related_name="notes")
    standard_set = models.ForeignKey(StandardSet, on_delete=models.PROTECT, null=True, related_name="notes")
    author = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    text = models.TextField(max_length=2000)
    at = models.DateTimeField()

    class Meta:
        verbose_name = "note of a discussion"
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(second_mark__isnull=False, standard_set__isnull=True)
                | Q(second_mark__isnull=True, standard_set__isnull=False),
                name="discussion_note_about_one_thing",
            ),
            models.CheckConstraint(condition=~Q(text=""), name="discussion_note_says_something"),
        ]

    def __str__(self) -> str:
        return f"note by {self.author_id}"
