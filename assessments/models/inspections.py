from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from academy.models import Membership
from assessments.models.sets import PracticeSet
from courses.mapping.counts import fan_lengths_mm
from courses.mapping.lash_map import Cell, LashMap, cell
from courses.models import Fault


class Inspection(models.Model):
    """A look at positions drawn by the system before anything is marked."""

    practice_set = models.ForeignKey(PracticeSet, on_delete=models.PROTECT, related_name="inspections")
    inspector = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    is_blind = models.BooleanField(default=False)  # a second look that has not seen the first
    seed = models.BigIntegerField()
    plan = models.JSONField()  # the SamplePlan it was drawn with
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["practice_set"], condition=Q(is_blind=False), name="inspection_one_first_look_per_set"
            )
        ]

    def __str__(self) -> str:
        return f"inspection of set {self.practice_set_id}"


class Position(models.Model):
    """One drawn position and what was found there. The draw never changes; the finding may until closing."""

    class Finding(models.TextChoices):
        UNSEEN = "unseen", "not yet looked at"
        CLEAN = "clean", "clean"
        FAULTY = "faulty", "with a fault"
        BARE = "bare", "lash left bare"

    inspection = models.ForeignKey(Inspection, on_delete=models.CASCADE, related_name="positions")
    index = models.PositiveSmallIntegerField()
    eye = models.CharField(max_length=5)
    zone = models.CharField(max_length=20)
    layer = models.CharField(max_length=20)
    fan = models.PositiveSmallIntegerField()
    wants_gap = models.BooleanField(default=False)
    wants_direction = models.BooleanField(default=False)
    wants_length = models.BooleanField(default=False)
    finding = models.CharField(max_length=6, choices=Finding, default=Finding.UNSEEN)
    faults = models.ManyToManyField(Fault, related_name="+")
    gap_mm = models.DecimalField(
        max_digits=4,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(20)],
    )
    direction_deg = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(180)]
    )
    found_length_mm = models.DecimalField(
        max_digits=3,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(3), MaxValueValidator(25)],
    )
    seen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["index"]
        constraints = [
            models.UniqueConstraint(fields=["inspection", "index"], name="position_index_once"),
            models.UniqueConstraint(
                fields=["inspection", "eye", "zone", "layer", "fan"], name="position_fan_once"
            ),
            models.CheckConstraint(
                condition=Q(gap_mm__isnull=True) | Q(gap_mm__range=(0, 20)), name="position_gap_range"
            ),
            models.CheckConstraint(
                condition=Q(direction_deg__isnull=True) | Q(direction_deg__range=(0, 180)),
                name="position_direction_range",
            ),
            models.CheckConstraint(
                condition=Q(found_length_mm__isnull=True) | Q(found_length_mm__range=(3, 25)),
                name="position_found_length_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.eye} {self.zone} {self.layer} {self.fan}"

    def planned_cell(self, lash_map: LashMap) -> Cell:
        """What the map plans where this fan stands."""
        return cell(lash_map, self.eye, self.zone, self.layer)

    def planned_mm(self, lash_map: LashMap) -> int:
        """The length the map plans for this very fan."""
        return fan_lengths_mm(self.planned_cell(lash_map), self.fan)[-1]
