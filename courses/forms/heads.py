from datetime import date

from django import forms

from academy.forms import DateInput
from courses.models import Head
from courses.services.heads import HeadContent

LAYER_CHOICES = [(1, "1 layer"), (2, "2 layers"), (3, "3 layers")]


class HeadForm(forms.Form):
    name = forms.CharField(max_length=60, help_text="A name or number that stands on the head itself.")
    layers = forms.TypedChoiceField(
        label="Lash layers", coerce=int, choices=LAYER_CHOICES, initial=2, widget=forms.RadioSelect
    )
    strip_fitted_on = forms.DateField(label="Strip fitted on", widget=DateInput)
    note = forms.CharField(
        max_length=240,
        required=False,
        help_text="Anything the bench should know, such as a worn inner corner.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def content(self) -> HeadContent:
        return HeadContent(**self.cleaned_data)

    @staticmethod
    def initial_of(head: Head) -> dict[str, object]:
        return {
            "name": head.name,
            "layers": head.layers,
            "strip_fitted_on": head.strip_fitted_on,
            "note": head.note,
        }


class StripForm(forms.Form):
    strip_fitted_on = forms.DateField(label="New strip fitted on", widget=DateInput)

    def fitted_on(self) -> date:
        day: date = self.cleaned_data["strip_fitted_on"]
        return day
