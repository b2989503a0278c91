from functools import cached_property

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower

from academy.models import Academy, AppendOnly, Membership
from courses.mapping.counts import FanPlan, fans_from_coverage, plan_counts
from courses.mapping.lash_map import LashMap
from courses.mapping.map_json import read_map


class FanShape(models.TextChoices):
    OPEN = "open", "Open fan"
    CLOSED = "closed", "Closed fan"
    SPIKE = "spike", "Spike"


class Difficulty(models.TextChoices):
    BEGINNER = "beginner", "For beginners"
    PRACTISED = "practised", "For practised hands"
    ADVANCED = "advanced", "Advanced"


class SetBrief(models.Model):
    """What to build. Its content lives in versions; a brief that has been used only ever gains a version."""

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="briefs")
    name = models.CharField(max_length=80)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                "academy",
                name="brief_name_once_per_academy",
                violation_error_message="There is already a brief of this name. Choose another.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class BriefVersion(AppendOnly):
    """One wording of a brief. Angles in degrees, diameter in hundredths of a millimetre.

    ``map`` is what is built. The fan's columns say its main fan, ``zones``, ``layers`` and ``fan_kinds`` its
    frame and every fan it uses: all written from the map, so that lists and searches need not read it.
    """

    brief = models.ForeignKey(SetBrief, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    style = models.CharField(max_length=60)
    difficulty = models.CharField(max_length=9, choices=Difficulty, blank=True)
    map = models.JSONField()  # as courses.mapping.map_json writes it
    silenced = models.JSONField(default=dict, blank=True)  # key of a finding on the map -> note
    fan_shape = models.CharField(max_length=6, choices=FanShape)
    opening_min_deg = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(120)]
    )
    opening_max_deg = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(120)]
    )
    curl = models.CharField(max_length=4)
    diameter_hundredths = models.PositiveSmallIntegerField()
    filaments = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(30)])
    coverage_percent = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(10), MaxValueValidator(100)]
    )
    lashes_per_eye = models.PositiveSmallIntegerField(
        default=80, validators=[MinValueValidator(20), MaxValueValidator(200)]
    )
    zones = models.JSONField()  # codes from the inner to the outer corner
    layers = models.JSONField()  # codes from the top down
    fan_kinds = models.CharField(max_length=400)  # " open-5 closed-7 "
    notes = models.TextField(blank=True, max_length=2000)
    created_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField()

    class Meta:
        verbose_name = "brief version"
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["brief", "number"], name="brief_version_number_once"),
            models.CheckConstraint(
                condition=~models.Q(fan_shape="open")
                | models.Q(opening_min_deg__isnull=False, opening_max_deg__gte=models.F("opening_min_deg")),
                name="brief_open_fan_has_target_opening",
            ),
        ]

    def __str__(self) -> str:
        """Costs a query unless ``brief`` is selected."""
        return f"{self.brief.name}, version {self.number}"

    @property
    def fans_per_eye(self) -> int:
        return fans_from_coverage(self.lashes_per_eye, self.coverage_percent)

    @cached_property
    def lash_map(self) -> LashMap:
        return read_map(self.map)

    @property
    def fan_shapes(self) -> tuple[str, ...]:
        """Every shape on the map, that of the main fan first."""
        others = {kind.partition("-")[0] for kind in self.fan_kinds.split()} - {self.fan_shape}
        return (self.fan_shape, *sorted(others))

    @cached_property
    def fan_plan(self) -> FanPlan:
        """Fans to place by eye, zone and layer."""
        return plan_counts(self.lash_map, self.fans_per_eye)

    @property
    def diameter_mm(self) -> str:
        return f"{self.diameter_hundredths / 100:.2f}"


class StageTarget(AppendOnly):
    """Minutes allowed from a student's ``from_set``-th set on this brief onwards."""

    version = models.ForeignKey(BriefVersion, on_delete=models.CASCADE, related_name="targets")
    from_set = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    minutes = models.PositiveSmallIntegerField(validators=[MinValueValidator(5), MaxValueValidator(600)])

    class Meta:
        verbose_name = "stage target"
        ordering = ["from_set"]
        constraints = [models.UniqueConstraint(fields=["version", "from_set"], name="stage_target_once")]

    def __str__(self) -> str:
        return f"from set {self.from_set}: {self.minutes} min"
