"""Places, people and hours: what a rota is made of. Times of day are local to the academy."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from academy.models import Academy, Membership
from courses.models.catalogue import Skill

IN_USE = Q(retired_at__isnull=True)  # what is retired keeps its name, and another may be given the same


class Weekday(models.IntegerChoices):
    """As ``date.weekday`` counts."""

    MONDAY = 0, "Monday"
    TUESDAY = 1, "Tuesday"
    WEDNESDAY = 2, "Wednesday"
    THURSDAY = 3, "Thursday"
    FRIDAY = 4, "Friday"
    SATURDAY = 5, "Saturday"
    SUNDAY = 6, "Sunday"


class Room(models.Model):
    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="rooms")
    name = models.CharField(max_length=60)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                "academy",
                condition=IN_USE,
                name="room_name_once_per_academy",
                violation_error_message="There is already a room of this name. Choose another.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Bench(models.Model):
    """One place to work at."""

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="benches")
    name = models.CharField(max_length=60)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "benches"
        ordering = ["room__name", "name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                "room",
                condition=IN_USE,
                name="bench_name_once_per_room",
                violation_error_message="There is already a bench of this name in this room. Choose another.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class WeeklyHours(models.Model):
    """From ``starts`` until ``ends`` on one day of every week; midnight is never crossed."""

    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta:
        abstract = True
        ordering = ["weekday", "starts"]
        constraints = [
            models.CheckConstraint(condition=Q(weekday__range=(0, 6)), name="%(class)s_known_weekday"),
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="%(class)s_ends_after_start"),
        ]

    def __str__(self) -> str:
        return f"{Weekday(self.weekday).label} {self.starts:%H:%M}–{self.ends:%H:%M}"


class OpeningHours(WeeklyHours):
    academy = models.ForeignKey(Academy, on_delete=models.CASCADE, related_name="opening_hours")

    class Meta(WeeklyHours.Meta):
        constraints = [
            *WeeklyHours.Meta.constraints,
            models.UniqueConstraint(fields=["academy", "weekday", "starts"], name="opening_hours_start_once"),
        ]


class WorkingHours(WeeklyHours):
    educator = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="working_hours")

    class Meta(WeeklyHours.Meta):
        constraints = [
            *WeeklyHours.Meta.constraints,
            models.UniqueConstraint(
                fields=["educator", "weekday", "starts"], name="working_hours_start_once"
            ),
        ]


class FreeHours(WeeklyHours):
    """When a student can come, as a rule."""

    student = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="free_hours")

    class Meta(WeeklyHours.Meta):
        constraints = [
            *WeeklyHours.Meta.constraints,
            models.UniqueConstraint(fields=["student", "weekday", "starts"], name="free_hours_start_once"),
        ]


class ClosedDay(models.Model):
    academy = models.ForeignKey(Academy, on_delete=models.CASCADE, related_name="closed_days")
    on = models.DateField()
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["on"]
        constraints = [models.UniqueConstraint(fields=["academy", "on"], name="closed_day_once")]

    def __str__(self) -> str:
        return f"closed on {self.on}"


class TimeAway(models.Model):
    """Days on which an educator does not work, the first and the last included."""

    educator = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="times_away")
    first_on = models.DateField()
    last_on = models.DateField()

    class Meta:
        verbose_name = "time away"
        ordering = ["first_on"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on")), name="time_away_ends_after_start"
            ),
            models.UniqueConstraint(fields=["educator", "first_on"], name="time_away_start_once"),
        ]

    def __str__(self) -> str:
        return f"{self.first_on}–{self.last_on}"


class FreeException(models.Model):
    """One day that differs from a student's usual week: free from ``starts`` to ``ends``, or not at all."""

    student = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="free_exceptions")
    on = models.DateField()
    starts = models.TimeField(null=True, blank=True)
    ends = models.TimeField(null=True, blank=True)

    class Meta:
        verbose_name = "exception"
        ordering = ["on"]
        constraints = [
            models.UniqueConstraint(fields=["student", "on"], name="free_exception_once_a_day"),
            models.CheckConstraint(
                condition=Q(starts__isnull=True, ends__isnull=True)
                | Q(starts__isnull=False, ends__isnull=False, ends__gt=F("starts")),
                name="free_exception_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.on}: {self.starts:%H:%M}–{self.ends:%H:%M}" if self.starts else f"{self.on}: not free"


class TaughtSkill(models.Model):
    """An educator may teach this skill."""

    educator = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="taught_skills")
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["educator", "skill"], name="taught_skill_once")]

    def __str__(self) -> str:
        return f"educator {self.educator_id} teaches skill {self.skill_id}"


class SessionKind(models.Model):
    """What a place is booked for; ``capacity``: students whom one educator can look after at a time."""

    class Form(models.TextChoices):
        SUPERVISED_BENCH = "supervised_bench", "supervised bench"
        GROUP_DRILL = "group_drill", "group drill"
        LIVE_MODEL_DAY = "live_model_day", "live-model day"

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="session_kinds")
    form = models.CharField(max_length=16, choices=Form)
    name = models.CharField(max_length=60)
    minutes = models.PositiveSmallIntegerField(validators=[MinValueValidator(15), MaxValueValidator(600)])
    capacity = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(40)]
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                "academy",
                condition=IN_USE,
                name="session_kind_name_once_per_academy",
                violation_error_message="There is already a kind of session of this name. Choose another.",
            ),
            models.CheckConstraint(
                condition=Q(form__in=["supervised_bench", "group_drill", "live_model_day"]),
                name="session_kind_known_form",
            ),
            models.CheckConstraint(condition=Q(minutes__range=(15, 600)), name="session_kind_minutes"),
            models.CheckConstraint(condition=Q(capacity__range=(1, 40)), name="session_kind_capacity"),
        ]

    def __str__(self) -> str:
        return self.name


def _whole(default: int, low: int, high: int, label: str) -> "models.PositiveSmallIntegerField[int, int]":
    limits = [MinValueValidator(low), MaxValueValidator(high)]
    return models.PositiveSmallIntegerField(label, default=default, validators=limits)


class RotaRules(models.Model):
    """What one academy asks of bookings; without a row, the defaults: common practice, no source.

    The days between sessions of one skill follow the spacing studies that DEVELOPERS.md names.
    """

    academy = models.OneToOneField(Academy, on_delete=models.PROTECT, related_name="rota_rules")
    notice_hours = _whole(48, 0, 336, "hours of notice for a change, and before which a plan moves nothing")
    days_ahead = _whole(56, 1, 365, "days ahead that can be booked")
    open_bookings = _whole(4, 1, 40, "bookings that a student may hold")
    spacing_days_low = _whole(2, 1, 60, "days between sessions of one skill, at least")
    spacing_days_high = _whole(7, 1, 90, "days between sessions of one skill, at most")
    long_minutes = _whole(120, 30, 600, "minutes from which a session counts as long")

    class Meta:
        verbose_name_plural = "rota rules"
        constraints = [
            models.CheckConstraint(
                condition=Q(spacing_days_low__lte=F("spacing_days_high")), name="rota_rules_spacing_range"
            )
        ]

    def __str__(self) -> str:
        return f"rota rules of academy {self.academy_id}"
