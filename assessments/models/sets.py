from uuid import uuid4

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from academy.models import Academy, AppendOnly, Membership
from assessments.models.rubrics import RubricVersion
from assessments.scoring.timing import EventKind, SetState
from courses.models import BriefVersion, Head

UNDER_WAY = (SetState.READY.value, SetState.WORKING.value, SetState.PAUSED.value)
HEAD_IN_USE = (*UNDER_WAY, SetState.FINISHED.value)


class PracticeSet(models.Model):
    """One student, one brief, one head, one timed attempt."""

    uid = models.UUIDField(unique=True, default=uuid4, editable=False)
    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="practice_sets")
    student = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="practice_sets")
    opened_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    brief = models.ForeignKey(BriefVersion, on_delete=models.PROTECT, related_name="practice_sets")
    head = models.ForeignKey(Head, on_delete=models.PROTECT, related_name="practice_sets")
    rubric = models.ForeignKey(RubricVersion, on_delete=models.PROTECT, related_name="practice_sets")
    number = models.PositiveIntegerField()  # the student's n-th set
    state = models.CharField(
        max_length=10, choices=[(s.value, s.value) for s in SetState], default=SetState.READY.value
    )
    target_s = models.PositiveIntegerField()
    strip_fitted_on = models.DateField()
    adhesive_lot = models.CharField(max_length=40)
    adhesive_opened_on = models.DateField()
    adhesive_days = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(365)]
    )
    room_c = models.DecimalField(
        max_digits=3, decimal_places=1, validators=[MinValueValidator(5), MaxValueValidator(45)]
    )
    room_rh = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(100)])
    created_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    worked_s = models.FloatField(null=True, blank=True)
    graded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["student", "number"], name="practice_set_number_once_per_student"
            ),
            models.UniqueConstraint(
                fields=["student"], condition=Q(state__in=UNDER_WAY), name="practice_set_one_open_per_student"
            ),
            models.UniqueConstraint(
                fields=["head"], condition=Q(state__in=HEAD_IN_USE), name="practice_set_one_open_per_head"
            ),
            models.CheckConstraint(
                condition=Q(state__in=[s.value for s in SetState]), name="practice_set_known_state"
            ),
            models.CheckConstraint(
                condition=Q(state__in=("ready", "abandoned")) | Q(started_at__isnull=False),
                name="practice_set_started_has_start",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=("finished", "inspected", "graded"))
                | Q(finished_at__isnull=False, worked_s__isnull=False)  # a comparison with nothing would pass
                & Q(finished_at__gte=models.F("started_at"), worked_s__gte=0),
                name="practice_set_finished_has_clock",
            ),
            models.CheckConstraint(
                condition=Q(state="graded", graded_at__isnull=False) | ~Q(state="graded") & Q(graded_at=None),
                name="practice_set_graded_has_instant",
            ),
            models.CheckConstraint(condition=Q(room_rh__range=(1, 100)), name="practice_set_humidity_range"),
            models.CheckConstraint(condition=Q(room_c__range=(5, 45)), name="practice_set_temperature_range"),
        ]
        indexes = [
            models.Index(fields=["academy", "state", "-created_at"], name="practice_set_by_state"),
            models.Index(fields=["student", "-number"], name="practice_set_by_student"),
        ]

    def __str__(self) -> str:
        return f"set {self.number}"


class SetEvent(AppendOnly):
    """One thing that happened at the bench. ``uid`` is made by the device, so a repeat changes nothing."""

    practice_set = models.ForeignKey(PracticeSet, on_delete=models.PROTECT, related_name="events")
    uid = models.UUIDField(unique=True)
    kind = models.CharField(
        max_length=10, choices=[(k.value, k.value) for k in EventKind] + [("position", "position")]
    )
    at = models.DateTimeField()  # the instant that counts
    received_at = models.DateTimeField()
    actor = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    data = models.JSONField(default=dict)  # eye, layer, reason; for a position: its index and findings

    class Meta:
        verbose_name = "event"
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.kind} at {self.at:%H:%M:%S}"
