"""What a student needs to train again, the counts that answer it, and what an academy asks of retraining."""

from django.db import models
from django.db.models import F, Q

from academy.models import Academy, AppendOnly, Membership
from assessments.models.marks import Grade
from assessments.models.sets import PracticeSet
from courses.models import Booking, Drill, Skill


class NeedRules(AppendOnly):
    """What an academy asks of retraining; a change is the next version. Without ``made_by``: the default.

    ``rules`` is read by ``scoring.need_rules.parse_need_rules``.
    """

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="need_rules")
    number = models.PositiveSmallIntegerField()
    rules = models.JSONField(default=dict)
    made_by = models.ForeignKey(Membership, on_delete=models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        verbose_name = "rules of retraining"
        verbose_name_plural = "rules of retraining"
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["academy", "number"], name="need_rules_number_once")]

    def __str__(self) -> str:
        return f"version {self.number}"


class DrillCount(AppendOnly):
    """A drill done under the eyes of an educator: ``clean_count`` of ``done`` were right."""

    student = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="drill_counts")
    drill = models.ForeignKey(Drill, on_delete=models.PROTECT, related_name="+")
    done = models.PositiveSmallIntegerField()
    clean_count = models.PositiveSmallIntegerField()
    recorded_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        verbose_name = "drill count"
        ordering = ["-id"]
        indexes = [models.Index(fields=["student", "drill", "at"], name="drill_count_by_student")]
        constraints = [
            models.CheckConstraint(condition=Q(done__gte=1), name="drill_count_of_something"),
            models.CheckConstraint(
                condition=Q(clean_count__lte=F("done")), name="drill_count_clean_within_done"
            ),
            models.CheckConstraint(condition=~Q(recorded_by=F("student")), name="drill_count_not_by_oneself"),
        ]

    def __str__(self) -> str:
        return f"{self.clean_count} of {self.done} in drill {self.drill_id} by student {self.student_id}"


class Need(models.Model):
    """A weak or fading skill that wants retraining. A graded set or a counted drill closes it, never a click.

    ``raised_from``: the set that showed it. ``priority``: 1 to 5, 5 first.
    """

    class Kind(models.TextChoices):
        FAILED_GATE = "failed_gate", "gate not passed"
        WEAK = "weak", "below target"
        LAPSE = "lapse", "slipped"
        IDLE = "idle", "out of practice"
        RETEST = "retest", "retest"
        BY_HAND = "by_hand", "asked for"

    student = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="needs")
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=11, choices=Kind)
    drill = models.ForeignKey(Drill, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    count_target = models.PositiveSmallIntegerField(null=True, blank=True)
    reason = models.CharField(max_length=240)
    priority = models.PositiveSmallIntegerField()
    due_on = models.DateField()
    raised_at = models.DateTimeField()
    raised_by = models.ForeignKey(Membership, on_delete=models.PROTECT, null=True, related_name="+")
    raised_from = models.ForeignKey(PracticeSet, on_delete=models.PROTECT, null=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by_grade = models.ForeignKey(Grade, on_delete=models.PROTECT, null=True, related_name="+")
    closed_by_count = models.ForeignKey(DrillCount, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-priority", "due_on", "id"]
        indexes = [models.Index(fields=["student", "closed_at"], name="need_by_student")]
        constraints = [
            models.UniqueConstraint(
                fields=["student", "skill", "kind"],
                condition=Q(closed_at__isnull=True),
                name="need_open_once",
                violation_error_message="There is an open need of this kind for this skill already.",
            ),
            models.CheckConstraint(
                condition=Q(
                    closed_at__isnull=True, closed_by_grade__isnull=True, closed_by_count__isnull=True
                )
                | Q(closed_at__isnull=False)
                & (
                    Q(closed_by_grade__isnull=False, closed_by_count__isnull=True)
                    | Q(closed_by_grade__isnull=True, closed_by_count__isnull=False)
                ),
                name="need_closed_by_evidence",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["failed_gate", "weak", "lapse", "idle", "retest", "by_hand"]),
                name="need_known_kind",
            ),
            models.CheckConstraint(condition=Q(priority__range=(1, 5)), name="need_priority_range"),
            models.CheckConstraint(
                condition=Q(drill__isnull=True, count_target__isnull=True)
                | Q(drill__isnull=False, count_target__isnull=False, count_target__gte=1),
                name="need_drill_with_count",
            ),
            models.CheckConstraint(
                condition=Q(kind="by_hand", raised_by__isnull=False)
                | ~Q(kind="by_hand") & Q(raised_by__isnull=True),
                name="need_by_hand_names_who",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind}: skill {self.skill_id} of student {self.student_id}"


class NeedBooking(models.Model):
    """A booking that was made for a need; it says nothing about what came of it."""

    need = models.ForeignKey(Need, on_delete=models.CASCADE, related_name="bookings")
    booking = models.OneToOneField(Booking, on_delete=models.CASCADE, related_name="for_need")

    def __str__(self) -> str:
        return f"need {self.need_id} at booking {self.booking_id}"
