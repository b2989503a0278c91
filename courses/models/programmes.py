from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from academy.models import Academy, DraftOnly, Membership, VersionIsPublished
from courses.programme.content import ProgrammeContent, Unit, read_certificate, read_gate

HOURS_MOST = 9999


class ProgrammeIsPublished(VersionIsPublished):
    noun = "programme"


class Programme(models.Model):
    """A course that an academy gives. Its content lives in versions."""

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="programmes")
    name = models.CharField(max_length=80)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                "academy",
                name="programme_name_once_per_academy",
                violation_error_message="There is already a programme of this name. Choose another.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class ProgrammeVersion(DraftOnly):
    """What the programme asks for: a draft until published, then never changed.

    Hours are decimal hours; the owner enters them with where they were read and when. ``gate`` and
    ``certificate`` are written by ``courses.programme`` and judged by ``assessments.scoring.readiness``.
    """

    published_path = "published_at"
    refusal = ProgrammeIsPublished

    programme = models.ForeignKey(Programme, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    theory_hours = models.DecimalField(
        max_digits=6, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    practical_hours = models.DecimalField(
        max_digits=6, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    hours_source = models.CharField(max_length=400, blank=True)
    hours_source_on = models.DateField(null=True, blank=True)
    gate = models.JSONField(default=dict)
    certificate = models.JSONField(default=dict)
    made_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(
        Membership, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        verbose_name = "programme version"
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["programme", "number"], name="programme_version_number_once"),
            models.UniqueConstraint(
                fields=["programme"],
                condition=Q(published_at__isnull=True),
                name="programme_one_draft_at_a_time",
                violation_error_message="This programme already has a draft. Publish or discard it first.",
            ),
            models.CheckConstraint(
                condition=Q(theory_hours__isnull=True) | Q(theory_hours__range=(0, HOURS_MOST)),
                name="programme_theory_hours_range",
            ),
            models.CheckConstraint(
                condition=Q(practical_hours__isnull=True) | Q(practical_hours__range=(0, HOURS_MOST)),
                name="programme_practical_hours_range",
            ),
            models.CheckConstraint(
                condition=Q(published_at__isnull=True)
                | Q(
                    theory_hours__isnull=False,
                    practical_hours__isnull=False,
                    hours_source_on__isnull=False,
                    published_by__isnull=False,
                )
                & ~Q(hours_source=""),
                name="programme_published_with_hours_and_source",
            ),
        ]

    def __str__(self) -> str:
        """Costs a query unless ``programme`` is selected."""
        return f"{self.programme.name}, version {self.number}"

    @property
    def is_published(self) -> bool:
        return self.published_at is not None

    @property
    def is_open_draft(self) -> bool:
        """Whether it may still be changed; costs a query unless ``programme`` is selected."""
        return not self.is_published and self.programme.retired_at is None

    @property
    def content(self) -> ProgrammeContent:
        """Costs a query unless ``units`` are prefetched."""
        return ProgrammeContent(
            units=tuple(unit.content for unit in self.units.all()),
            theory_hours=self.theory_hours,
            practical_hours=self.practical_hours,
            hours_source=self.hours_source,
            hours_source_on=self.hours_source_on,
            gate=read_gate(self.gate),
            certificate=read_certificate(self.certificate),
        )


class UnitKind(models.TextChoices):
    THEORY = "theory", "Theory"
    PRACTICAL = "practical", "Practical"


class ProgrammeUnit(DraftOnly):
    """One part of the programme that an educator signs off. ``code`` is the same unit in every version."""

    published_path = "version__published_at"
    refusal = ProgrammeIsPublished

    version = models.ForeignKey(ProgrammeVersion, on_delete=models.CASCADE, related_name="units")
    code = models.SlugField(max_length=40)
    position = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=120)
    kind = models.CharField(max_length=9, choices=UnitKind)
    before_live = models.BooleanField(default=False)  # signed off before the gate to live models opens

    class Meta:
        verbose_name = "unit"
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["version", "code"], name="programme_unit_code_once"),
            models.UniqueConstraint(fields=["version", "position"], name="programme_unit_position_once"),
            models.CheckConstraint(condition=Q(kind__in=UnitKind.values), name="programme_unit_known_kind"),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def content(self) -> Unit:
        return Unit(title=self.title, kind=self.kind, before_live=self.before_live, code=self.code)
