from django import forms

from courses.mapping.trade import DIAMETERS, millimetres
from courses.models import Difficulty, FanShape
from courses.selectors.briefs import BriefSearch

DIAMETER_CHOICES = [(each, f"{millimetres(each)} mm") for each in DIAMETERS]


class BriefSearchForm(forms.Form):
    style = forms.CharField(label="Name or style", max_length=60, required=False)
    fan_shape = forms.ChoiceField(label="Fan shape", choices=[("", "Any"), *FanShape.choices], required=False)
    diameter_hundredths = forms.TypedChoiceField(
        label="Diameter",
        coerce=int,
        empty_value=None,
        choices=[("", "Any"), *DIAMETER_CHOICES],
        required=False,
    )
    difficulty = forms.ChoiceField(
        label="Written for", choices=[("", "Any"), *Difficulty.choices], required=False
    )
    nth = forms.IntegerField(label="Target for set number", min_value=1, max_value=999, required=False)

    def search(self) -> BriefSearch:
        data = self.cleaned_data if self.is_valid() else {}
        return BriefSearch(
            style=data.get("style", ""),
            fan_shape=data.get("fan_shape", ""),
            diameter_hundredths=data.get("diameter_hundredths"),
            difficulty=data.get("difficulty", ""),
        )

    def nth_set(self) -> int:
        return self.cleaned_data.get("nth") or 1 if self.is_valid() else 1


class BriefCopyForm(forms.Form):
    name = forms.CharField(label="Name of the copy", max_length=80)
