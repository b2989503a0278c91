from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from academy.models import Academy
from courses.mapping.checks import CheckSettings
from courses.mapping.load import PBT_DENSITY_MG_MM3
from courses.mapping.supplies import SupplySettings


def _whole(default: int, low: int, high: int, label: str) -> "models.PositiveSmallIntegerField[int, int]":
    limits = [MinValueValidator(low), MaxValueValidator(high)]
    return models.PositiveSmallIntegerField(label, default=default, validators=limits)


class MapGuide(models.Model):
    """What one academy teaches about lash maps: thresholds, limits and supplies. No row: the defaults.

    Every default is common practice, no source, but for the density; the filaments in a tray are an
    assumption, as trays differ between makers.
    """

    academy = models.OneToOneField(Academy, on_delete=models.PROTECT, related_name="map_guide")
    zone_step_mm = _whole(1, 0, 5, "step between zones, mm")
    layer_step_mm = _whole(1, 0, 5, "difference between layers, mm")
    filler_gap_mm = _whole(3, 1, 8, "fillers shorter than the longest peak by, mm")
    peaks_below_percent = _whole(50, 1, 100, "peaks stay under, % of a zone")
    denser_look_mm = _whole(2, 1, 8, "a zone looks denser when shorter by, mm")
    fine_hundredths = _whole(5, 1, 25, "a fine filament, up to")
    past_natural_hint_mm = _whole(2, 0, 8, "hint when longer than the natural lash by more than, mm")
    past_natural_most_mm = _whole(3, 0, 8, "warn when longer than the natural lash by more than, mm")
    reference_hundredths = _whole(15, 1, 25, "single extension that fans are compared with")
    programme_limits = models.JSONField(default=dict, blank=True)  # most filaments by hundredths of a mm
    filaments_per_tray = _whole(2400, 12, 20000, "filaments in a tray")
    strips_per_tray = _whole(12, 1, 40, "strips in a tray")
    waste_percent = _whole(15, 0, 300, "waste, %")
    refresh_minutes = _whole(20, 1, 120, "minutes between drops of adhesive")
    drops_a_refresh = _whole(1, 1, 5, "drops at a time")
    check_minutes = _whole(5, 0, 30, "minutes kept for the student's own check")
    density_mg_mm3 = models.DecimalField(
        "density of the filament, mg/mm³",
        max_digits=4,
        decimal_places=3,
        default=Decimal(str(PBT_DENSITY_MG_MM3)),
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(3)],
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(past_natural_most_mm__gte=models.F("past_natural_hint_mm")),
                name="map_guide_warns_after_it_hints",
                violation_error_message="The warning comes after the hint: give it the same length or more.",
            ),
            models.CheckConstraint(
                condition=models.Q(filaments_per_tray__gte=models.F("strips_per_tray")),
                name="map_guide_strips_hold_filaments",
                violation_error_message="Each strip of a tray holds at least 1 filament.",
            ),
        ]

    def __str__(self) -> str:
        return f"map guide of academy {self.academy_id}"

    @classmethod
    def usual(cls, academy: Academy) -> "MapGuide":
        """Not saved: what holds until the owner says otherwise."""
        limits = {str(diameter): most for diameter, most in CheckSettings().programme_limits.items()}
        return cls(academy=academy, programme_limits=limits)

    @property
    def checks(self) -> CheckSettings:
        same = (
            *("zone_step_mm", "layer_step_mm", "filler_gap_mm", "peaks_below_percent", "denser_look_mm"),
            *("fine_hundredths", "past_natural_hint_mm", "past_natural_most_mm", "reference_hundredths"),
        )
        return CheckSettings(programme_limits=self.limits, **{name: getattr(self, name) for name in same})

    @property
    def supplies(self) -> SupplySettings:
        same = (
            "filaments_per_tray",
            "strips_per_tray",
            "waste_percent",
            "refresh_minutes",
            "drops_a_refresh",
        )
        return SupplySettings(**{name: getattr(self, name) for name in same})

    @property
    def limits(self) -> dict[int, int]:
        """Most filaments a fan, by diameter in hundredths of a millimetre."""
        return {int(diameter): most for diameter, most in self.programme_limits.items()}
