from collections.abc import Mapping, Sequence
from typing import cast
from uuid import uuid4

from django import forms

from academy.models import Membership
from assessments.models import PracticeSet
from assessments.scoring.conditions import Conditions
from assessments.services.sets import Setup
from courses.models import Head, SetBrief


def _between(low: int, high: int, unit: str) -> dict[str, str]:
    """What to say of a number that nobody can have read off."""
    message = f"%(show_value)s {unit} cannot be. Enter {low} to {high}."
    no_number = f"This is no number. Enter {low} to {high}."
    return {"min_value": message, "max_value": message, "invalid": no_number}


class OpenSetForm(forms.Form):
    """Who practises what on which head, with what adhesive in which air."""

    student = forms.TypedChoiceField(coerce=int, widget=forms.RadioSelect, label="Student")
    brief = forms.TypedChoiceField(coerce=int, widget=forms.RadioSelect, label="Set brief")
    head = forms.TypedChoiceField(coerce=int, widget=forms.RadioSelect, label="Head")
    adhesive_lot = forms.CharField(
        max_length=40,
        label="Adhesive lot",
        error_messages={"max_length": "The lot has %(show_value)d characters. Enter 40 or fewer."},
    )
    adhesive_opened_on = forms.DateField(
        label="Opened on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "This is no date. Enter the day on which the adhesive was opened."},
    )
    adhesive_days = forms.IntegerField(
        min_value=1,
        max_value=365,
        label="Days usable after opening",
        help_text="As on the label.",
        error_messages=_between(1, 365, "days"),
    )
    room_c = forms.DecimalField(
        min_value=5,
        max_value=45,
        max_digits=3,
        decimal_places=1,
        label="Room temperature, °C",
        error_messages=_between(5, 45, "°C"),
    )
    room_rh = forms.IntegerField(
        min_value=1, max_value=100, label="Humidity, % RH", error_messages=_between(1, 100, "%% RH")
    )
    confirm_warnings = forms.BooleanField(required=False, label="Go on all the same")
    uid = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)

    def offer(
        self, students: Sequence[Membership], briefs: Sequence[SetBrief], heads: Sequence[Head]
    ) -> "OpenSetForm":
        """Give the radio buttons their choices."""
        for name, rows in (("student", students), ("brief", briefs), ("head", heads)):
            field = cast(forms.TypedChoiceField, self.fields[name])
            field.choices = [(row.pk, row.name) for row in rows]
            field.error_messages |= {
                "required": f"Choose a {field.label.lower() if field.label else name}.",
                "invalid_choice": f"That {name} is no longer free. Choose another.",
            }
        return self

    def setup(self) -> Setup:
        data = self.cleaned_data
        return Setup(data["student"], data["brief"], data["head"], self.conditions())

    def conditions(self) -> Conditions:
        names = ("adhesive_lot", "adhesive_opened_on", "adhesive_days", "room_c", "room_rh")
        return Conditions(**{name: self.cleaned_data[name] for name in names})


def carried_over(last: PracticeSet | None, adhesive_days: int) -> Mapping[str, object]:
    """First values of the form: the last set's bottle and room, or only the academy's days."""
    if last is None:
        return {"adhesive_days": adhesive_days}
    names = ("adhesive_lot", "adhesive_opened_on", "adhesive_days", "room_c", "room_rh")
    return {name: getattr(last, name) for name in names}
