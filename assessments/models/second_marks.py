"""Blind second marks, in tables of their own: no question about a student's marks can meet them."""

from uuid import uuid4

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q

from academy.models import Academy, AppendOnly, Membership
from assessments.models.inspections import Inspection
from assessments.models.rubrics import Criterion
from assessments.models.sets import PracticeSet


class SecondMarkRate(models.Model):
    """How many of an academy's sets get a second mark; without a row, or at 0, none do."""

    academy = models.OneToOneField(Academy, on_delete=models.CASCADE, related_name="second_mark_rate")
    one_in = models.PositiveSmallIntegerField(validators=[MaxValueValidator(100)])
    seed = models.CharField(max_length=64)  # the secret of the draw
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(one_in__lte=100), name="second_mark_rate_range"),
            models.CheckConstraint(condition=~Q(seed=""), name="second_mark_rate_has_secret"),
        ]

    def __str__(self) -> str:
        return f"one set in {self.one_in}" if self.one_in else "off"


class SecondMark(models.Model):
    """One set that chance gave to another educator, who looks at the same places without the first result."""

    class State(models.TextChoices):
        OPEN = "open", "waiting"
        DONE = "done", "signed"
        WAIVED = "waived", "waived"

    uid = models.UUIDField(unique=True, default=uuid4, editable=False)
    practice_set = models.OneToOneField(PracticeSet, on_delete=models.PROTECT, related_name="second_mark")
    inspection = models.OneToOneField(Inspection, on_delete=models.PROTECT, related_name="second_mark")
    assigned_to = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="second_marks")
    state = models.CharField(max_length=6, choices=State, default=State.OPEN)
    reason = models.CharField(max_length=500, blank=True)  # why it was waived
    chosen_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True)
    draft = models.JSONField(default=dict)
    draft_saved_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["chosen_at", "pk"]
        indexes = [models.Index(fields=["assigned_to", "state"], name="second_mark_by_educator")]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["open", "done", "waived"]), name="second_mark_known_state"
            ),
            models.CheckConstraint(
                condition=Q(state="waived") & ~Q(reason="") | ~Q(state="waived") & Q(reason=""),
                name="second_mark_waived_has_reason",
            ),
            models.CheckConstraint(
                condition=Q(state="open", closed_at__isnull=True)
                | ~Q(state="open") & Q(closed_at__isnull=False),
                name="second_mark_closed_has_instant",
            ),
        ]

    def __str__(self) -> str:
        return f"second mark of set {self.practice_set_id}"


class SecondMarkEvent(AppendOnly):
    """One step of a second look. ``uid`` is made by the device, so a repeat changes nothing."""

    second_mark = models.ForeignKey(SecondMark, on_delete=models.PROTECT, related_name="events")
    uid = models.UUIDField(unique=True)
    kind = models.CharField(max_length=10)
    received_at = models.DateTimeField()
    data = models.JSONField(default=dict)

    class Meta:
        verbose_name = "event of a second mark"
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["position", "inspect", "grade"]), name="second_mark_event_known_kind"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} at {self.received_at:%H:%M:%S}"


class SecondGrade(AppendOnly):
    """The signed second result. It says how evenly educators mark and never reaches the student."""

    second_mark = models.OneToOneField(SecondMark, on_delete=models.PROTECT, related_name="grade")
    entry = models.JSONField(default=dict)
    note = models.TextField(blank=True, max_length=2000)  # for the talk between the two educators
    signed_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()

    class Meta:
        verbose_name = "signed second mark"

    def __str__(self) -> str:
        return f"second result {self.second_mark_id}"


class SecondLevel(AppendOnly):
    """A level of a second result. Criteria that a second look cannot judge have none."""

    grade = models.ForeignKey(SecondGrade, on_delete=models.PROTECT, related_name="levels")
    criterion = models.ForeignKey(Criterion, on_delete=models.PROTECT, related_name="+")
    level = models.PositiveSmallIntegerField()
    proposed = models.PositiveSmallIntegerField(null=True)
    override_reason = models.CharField(max_length=500, blank=True)
    words = models.TextField()

    class Meta:
        verbose_name = "level of a second mark"
        constraints = [
            models.UniqueConstraint(fields=["grade", "criterion"], name="second_level_once_per_criterion"),
            models.CheckConstraint(condition=Q(level__range=(0, 4)), name="second_level_range"),
        ]

    def __str__(self) -> str:
        return f"level {self.level}"
