from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet

from academy.forms import DateInput
from courses.models import SessionKind, Skill

UNSEEN = -1  # the sequence of no booking


class SeenForm(forms.Form):
    """Which state of a booking somebody was looking at."""

    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0)


class CancelForm(SeenForm):
    reason = forms.CharField(
        max_length=240,
        required=False,
        help_text="Told to those concerned. Say nothing about anybody's health.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class WaitForm(forms.Form):
    """What a student waits for, and on which days."""

    kind = forms.ModelChoiceField(SessionKind.objects.none(), label="Kind of session", empty_label=None)
    skill = forms.ModelChoiceField(Skill.objects.none(), required=False, empty_label="Any skill")
    first_on = forms.DateField(label="First day", widget=DateInput)
    last_on = forms.DateField(label="Last day", widget=DateInput)

    def __init__(self, kinds: QuerySet[SessionKind], today: date, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"initial": {"first_on": today}, **kwargs})
        self.fields["kind"].queryset = kinds  # type: ignore[attr-defined]
        self.fields["skill"].queryset = Skill.objects.all()  # type: ignore[attr-defined]
