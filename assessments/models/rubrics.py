from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower

from academy.models import Academy, Membership
from assessments.models.published import RubricRow
from courses.models import SetBrief, Skill


class Rubric(models.Model):
    """A named list of criteria that grows by versions."""

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="rubrics")
    name = models.CharField(max_length=80)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                "academy",
                name="rubric_name_once_per_academy",
                violation_error_message="There is already a rubric of this name. Choose another.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class RubricVersion(RubricRow):
    """A draft until published; from then on nothing under it changes."""

    published_path = "published_at"

    rubric = models.ForeignKey(Rubric, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    per_zone = models.PositiveSmallIntegerField(
        default=5, validators=[MinValueValidator(1), MaxValueValidator(20)]
    )
    gaps_per_zone = models.PositiveSmallIntegerField(default=2, validators=[MaxValueValidator(20)])
    directions_per_zone = models.PositiveSmallIntegerField(default=2, validators=[MaxValueValidator(20)])
    # Drawn at the same place on both eyes and measured for length.
    pairs_per_zone = models.PositiveSmallIntegerField(default=1, validators=[MaxValueValidator(20)])
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(Membership, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["rubric", "number"], name="rubric_version_number_once"),
            models.UniqueConstraint(
                fields=["rubric"],
                condition=models.Q(published_at__isnull=True),
                name="rubric_one_draft_at_a_time",
                violation_error_message="This rubric already has a draft. Publish or discard it first.",
            ),
        ]

    def __str__(self) -> str:
        """Costs a query unless ``rubric`` is selected."""
        return f"{self.rubric.name}, version {self.number}"

    @property
    def is_published(self) -> bool:
        return self.published_at is not None


class Criterion(RubricRow):
    """One line of a rubric: how evidence becomes a level 0 to 4 (``rule`` is read by ``scoring.rules``)."""

    published_path = "version__published_at"

    version = models.ForeignKey(RubricVersion, on_delete=models.CASCADE, related_name="criteria")
    code = models.SlugField(max_length=30)
    name = models.CharField(max_length=80)
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+")
    order = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12)
    rule = models.JSONField(default=dict)
    weight = models.DecimalField(max_digits=4, decimal_places=2, default=1, validators=[MinValueValidator(0)])
    is_gate = models.BooleanField(default=False)
    gate_min = models.PositiveSmallIntegerField(default=2, validators=[MaxValueValidator(4)])
    blocks_time = models.BooleanField(default=False)

    class Meta:
        verbose_name_plural = "criteria"
        ordering = ["order"]
        constraints = [
            models.UniqueConstraint(fields=["version", "code"], name="criterion_code_once_per_version"),
            models.CheckConstraint(condition=models.Q(weight__gte=0), name="criterion_weight_not_negative"),
            models.CheckConstraint(
                condition=models.Q(gate_min__range=(0, 4)), name="criterion_gate_level_range"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class LevelDescriptor(RubricRow):
    """What one level of a criterion looks like, in words."""

    published_path = "criterion__version__published_at"

    criterion = models.ForeignKey(Criterion, on_delete=models.CASCADE, related_name="descriptors")
    level = models.PositiveSmallIntegerField()
    text = models.CharField(max_length=240)

    class Meta:
        ordering = ["level"]
        constraints = [
            models.UniqueConstraint(fields=["criterion", "level"], name="descriptor_once_per_level"),
            models.CheckConstraint(condition=models.Q(level__range=(0, 4)), name="descriptor_level_range"),
        ]

    def __str__(self) -> str:
        return f"{self.level}: {self.text}"


class HygieneLine(RubricRow):
    """A yes-or-no line of the set-up; missing a critical one is level 0."""

    published_path = "version__published_at"

    version = models.ForeignKey(RubricVersion, on_delete=models.CASCADE, related_name="hygiene_lines")
    code = models.SlugField(max_length=30)
    text = models.CharField(max_length=160)
    is_critical = models.BooleanField(default=False)
    order = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["order"]
        constraints = [models.UniqueConstraint(fields=["version", "code"], name="hygiene_line_code_once")]

    def __str__(self) -> str:
        return self.text


class BriefRubric(models.Model):
    """The published rubric version a brief is marked with; without a row, the academy's newest."""

    brief = models.OneToOneField(SetBrief, on_delete=models.CASCADE, related_name="rubric_choice")
    version = models.ForeignKey(RubricVersion, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"brief {self.brief_id} with rubric version {self.version_id}"
