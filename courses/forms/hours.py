from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import QuerySet

from academy.forms import DateInput
from academy.models import Membership
from courses.forms.enrolments import StudentsField
from courses.models import HoursEntry, HoursKind, ProgrammeUnit
from courses.services.hours import HoursContent


class TimeForm(forms.Form):
    """How long on one day, and for what."""

    kind = forms.ChoiceField(choices=HoursKind.choices, initial=HoursKind.THEORY, widget=forms.RadioSelect)
    on = forms.DateField(label="Day", widget=DateInput)
    hours = forms.IntegerField(min_value=0, max_value=24, initial=0)
    minutes = forms.IntegerField(min_value=0, max_value=59, initial=0)
    note = forms.CharField(
        required=False, max_length=240, help_text="What was done.", widget=forms.Textarea(attrs={"rows": 2})
    )

    def content(self) -> HoursContent:
        data = self.cleaned_data
        return HoursContent(
            kind=data["kind"],
            minutes=60 * data["hours"] + data["minutes"],
            on=data["on"],
            unit=data.get("unit"),
            note=data["note"],
        )


class HoursForm(TimeForm):
    unit = forms.ModelChoiceField(
        queryset=ProgrammeUnit.objects.none(), required=False, empty_label="No unit in particular"
    )
    field_order: Sequence[str] = ("kind", "on", "hours", "minutes", "unit", "note")

    def __init__(self, units: QuerySet[ProgrammeUnit], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["unit"].queryset = units  # type: ignore[attr-defined]


class CorrectHoursForm(HoursForm):
    reason = forms.CharField(
        label="Why it is corrected",
        max_length=240,
        help_text="It stays with the record, and so does the entry as it was.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    field_order = (*HoursForm.field_order, "reason")

    @staticmethod
    def initial_of(entry: HoursEntry) -> dict[str, object]:
        hours, minutes = divmod(entry.minutes, 60)
        same = {name: getattr(entry, name) for name in ("kind", "on", "note")}
        return {**same, "hours": hours, "minutes": minutes, "unit": entry.unit_id}


class GroupHoursForm(TimeForm):
    """The same hours for everyone who was there."""

    students = StudentsField(
        label="Who was there",
        queryset=Membership.objects.none(),
        error_messages={"required": "Tick at least one student who was there."},
    )

    def __init__(self, students: QuerySet[Membership], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["students"].queryset = students  # type: ignore[attr-defined]
