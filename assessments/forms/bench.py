from collections.abc import Mapping, Sequence
from typing import cast
from uuid import uuid4

from django import forms

from academy.models import Membership
from assessments.models import PracticeSet
from assessments.scoring.conditions import Conditions
from assessments.services.sets import Setup
from courses.models import Head, SetBrief


class OpenSetForm(forms.Form):
    """Who practises what on which head, with what adhesive in which air."""

    student = forms.TypedChoiceField(coerce=int, widget=forms.RadioSelect, label="Student")
    brief = forms.TypedChoiceField(coerce=int, widget=forms.RadioSelect, label="Set brief")
    head = forms.TypedChoiceField(coerce=int, widget=forms.RadioSelect, label="Head")
    adhesive_lot = forms.CharField(max_length=40, label="Adhesive lot")
    adhesive_opened_on = forms.DateField(
        label="Opened on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    adhesive_days = forms.IntegerField(
        min_value=1, max_value=365, label="Days usable after opening", help_text="As on the label."
    )
    room_c = forms.DecimalField(
        min_value=5, max_value=45, max_digits=3, decimal_places=1, label="Room temperature, °C"
    )
    room_rh = forms.IntegerField(min_value=1, max_value=100, label="Humidity, % RH")
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
