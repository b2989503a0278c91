from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet

from academy.forms import DateInput
from academy.models import Membership
from courses.models import SessionKind, Skill
from courses.services.booking_checks import FARTHEST


class DayForm(forms.Form):
    """The first day to look at."""

    first_on = forms.DateField(label="From", widget=DateInput)

    def __init__(self, today: date, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"initial": {"first_on": today}, **kwargs})
        self.today = today

    def clean_first_on(self) -> date:
        """A day that is over counts as today."""
        asked: date = max(self.cleaned_data["first_on"], self.today)
        if asked > self.today + FARTHEST:
            raise forms.ValidationError("Choose a day within the next two years.")
        return asked


class WantedForm(DayForm):
    """What is to be booked, asked by address so that the times found can be shared and gone back to."""

    student = forms.ModelChoiceField(Membership.objects.none(), empty_label="Choose a student")
    kind = forms.ModelChoiceField(SessionKind.objects.none(), label="Kind of session", empty_label=None)
    skill = forms.ModelChoiceField(Skill.objects.none(), required=False, empty_label="Any skill")

    field_order = ("student", "kind", "skill", "first_on")

    def __init__(
        self,
        kinds: QuerySet[SessionKind],
        students: QuerySet[Membership] | None,
        today: date,
        *args: Any,
        **kwargs: Any,
    ) -> None:
        """Without ``students`` it is the student herself who asks."""
        super().__init__(today, *args, **kwargs)
        self.fields["kind"].queryset = kinds  # type: ignore[attr-defined]
        self.fields["skill"].queryset = Skill.objects.all()  # type: ignore[attr-defined]
        if students is None:
            del self.fields["student"]
        else:
            self.fields["student"].queryset = students  # type: ignore[attr-defined]


class ChosenForm(forms.Form):
    """One of the times that were offered; the service checks that it is still free."""

    starts_at = forms.DateTimeField()
    educator = forms.IntegerField()
    bench = forms.IntegerField()
    seen = forms.IntegerField(required=False, min_value=0)
