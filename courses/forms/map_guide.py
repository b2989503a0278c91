from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from django import forms

from courses.mapping.lash_map import MOST_FILAMENTS
from courses.mapping.trade import DIAMETERS, millimetres
from courses.models import MapGuide
from courses.services.map_guides import EDITABLE

DIAMETER_CHOICES = [(diameter, f"{millimetres(diameter)} mm") for diameter in DIAMETERS]
GROUPS = (
    ("Lengths", "zone_step_mm", "layer_step_mm", "past_natural_hint_mm", "past_natural_most_mm"),
    ("Texture and coverage", "filler_gap_mm", "peaks_below_percent", "denser_look_mm"),
    ("Fans", "reference_hundredths", "fine_hundredths", "density_mg_mm3"),
    ("Supplies", "filaments_per_tray", "strips_per_tray", "waste_percent"),
    ("Time and adhesive", "check_minutes", "refresh_minutes", "drops_a_refresh"),
)


if TYPE_CHECKING:
    GuideForm = forms.ModelForm[MapGuide]
else:
    GuideForm = forms.ModelForm  # not subscriptable when it runs


class MapGuideForm(GuideForm):
    """A limit left empty is none."""

    reference_hundredths = forms.TypedChoiceField(
        label="Single extension that fans are compared with", coerce=int, choices=DIAMETER_CHOICES
    )
    fine_hundredths = forms.TypedChoiceField(
        label="A filament counts as fine up to", coerce=int, choices=DIAMETER_CHOICES
    )

    class Meta:
        model = MapGuide
        fields = [name for name in EDITABLE if name != "programme_limits"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for diameter in DIAMETERS:
            self.fields[_limit_field(diameter)] = forms.IntegerField(
                label=f"Most filaments of {millimetres(diameter)} mm",
                required=False,
                min_value=1,
                max_value=MOST_FILAMENTS,
                initial=self.instance.limits.get(diameter),
            )

    def changes(self) -> dict[str, object]:
        """By field of MapGuide."""
        data = self.cleaned_data
        limits = {str(each): data[_limit_field(each)] for each in DIAMETERS if data.get(_limit_field(each))}
        return {name: data[name] for name in self.Meta.fields} | {"programme_limits": limits}

    def groups(self) -> Iterator[tuple[str, list[forms.BoundField]]]:
        for heading, *names in GROUPS:
            yield heading, [self[name] for name in names]

    def limit_fields(self) -> list[forms.BoundField]:
        return [self[_limit_field(diameter)] for diameter in DIAMETERS]

    def _post_clean(self) -> None:
        """The service checks the whole and writes it: nothing is set on the row here."""


def _limit_field(diameter: int) -> str:
    return f"limit_{diameter}"
