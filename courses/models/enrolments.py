from django.db import models
from django.db.models import F, Q

from academy.models import AppendOnly, Membership
from courses.models.programmes import ProgrammeUnit, ProgrammeVersion

DAY_MINUTES = 24 * 60


class Enrolment(models.Model):
    """A student on a programme, pinned to one version of it."""

    student = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="enrolments")
    version = models.ForeignKey(ProgrammeVersion, on_delete=models.PROTECT, related_name="enrolments")
    enrolled_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-enrolled_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["student"],
                condition=Q(ended_at__isnull=True),
                name="enrolment_one_open_per_student",
                violation_error_message="This student is already on a programme. End that enrolment first.",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("enrolled_at")),
                name="enrolment_ends_after_it_began",
            ),
        ]

    def __str__(self) -> str:
        return f"student {self.student_id} on programme version {self.version_id}"


class EnrolmentMove(AppendOnly):
    """That an enrolment was moved to a newer version, and why."""

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="moves")
    from_version = models.ForeignKey(ProgrammeVersion, on_delete=models.PROTECT, related_name="+")
    to_version = models.ForeignKey(ProgrammeVersion, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=400)
    moved_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        verbose_name = "move to another version"
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(from_version=F("to_version")), name="enrolment_move_goes_somewhere"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="enrolment_move_has_reason"),
        ]

    def __str__(self) -> str:
        return f"enrolment {self.enrolment_id}: version {self.from_version_id} to {self.to_version_id}"


class UnitSignOff(AppendOnly):
    """What an educator says of one unit; the newest row of a unit counts."""

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="sign_offs")
    unit = models.ForeignKey(ProgrammeUnit, on_delete=models.PROTECT, related_name="+")
    passed = models.BooleanField()
    note = models.CharField(max_length=400, blank=True)
    signed_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        verbose_name = "sign-off"
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(passed=True) | ~Q(note=""), name="sign_off_not_passed_says_what_is_missing"
            )
        ]

    def __str__(self) -> str:
        return f"unit {self.unit_id} {'passed' if self.passed else 'not passed'}"


class HoursKind(models.TextChoices):
    THEORY = "theory", "Theory in the room"
    PRACTICAL = "practical", "Practical"
    ONLINE = "online", "Theory online"
    FIELD_TRIP = "field_trip", "Field trip"


class HoursEntry(AppendOnly):
    """Minutes attended on one day. A correction replaces the row it names; with 0 it takes it back."""

    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="hours")
    kind = models.CharField(max_length=10, choices=HoursKind)
    minutes = models.PositiveSmallIntegerField()
    on = models.DateField()
    unit = models.ForeignKey(ProgrammeUnit, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    note = models.CharField(max_length=240, blank=True)
    entered_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    reason = models.CharField(max_length=240, blank=True)

    class Meta:
        verbose_name = "hours entry"
        verbose_name_plural = "hours entries"
        ordering = ["-on", "-id"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=HoursKind.values), name="hours_known_kind"),
            models.CheckConstraint(
                condition=Q(minutes__range=(1, DAY_MINUTES)) | Q(minutes=0, corrects__isnull=False),
                name="hours_within_a_day",
            ),
            models.CheckConstraint(
                condition=Q(corrects__isnull=True, reason="") | Q(corrects__isnull=False) & ~Q(reason=""),
                name="hours_correction_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.minutes} min {self.kind} on {self.on}"
