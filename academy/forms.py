"""What owners and newcomers type in. Rules about rows live in the services, which answer in sentences."""

from decimal import Decimal
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth.password_validation import validate_password

from academy.errors import DomainError
from academy.models import Academy, Cohort, Membership, Role, User
from academy.selectors.people import cohorts
from academy.services.academies import AcademyDetails
from academy.services.people import NAME_LENGTH


def show_refusal(form: forms.BaseForm, error: DomainError) -> None:
    """Put a service's refusal beside the field it is about, or at the top of the form."""
    field = error.details.get("field")
    form.add_error(field if isinstance(field, str) and field in form.fields else None, error.message)


class DateInput(forms.DateInput):
    """The browser's own calendar; it needs ISO dates whatever the locale."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class PlaceForm(forms.Form):
    """A role, and a cohort for students."""

    role = forms.ChoiceField(choices=Role.choices, initial=Role.STUDENT, widget=forms.RadioSelect)
    cohort = forms.ModelChoiceField(
        queryset=Cohort.objects.none(),
        required=False,
        empty_label="No cohort",
        help_text="For students only.",
    )

    def __init__(self, academy: Academy, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cohort"].queryset = cohorts(academy)  # type: ignore[attr-defined]

    def clean_role(self) -> Role:
        return Role(self.cleaned_data["role"])

    @classmethod
    def of(cls, member: Membership) -> "PlaceForm":
        return cls(member.academy, initial={"role": member.role, "cohort": member.cohort_id})


class InviteForm(PlaceForm):
    name = forms.CharField(max_length=NAME_LENGTH, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    email = forms.EmailField(
        label="E-mail",
        help_text="The link goes here. It can be used once.",
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    field_order = ("name", "email", "role", "cohort")


class CohortForm(forms.Form):
    name = forms.CharField(max_length=80)
    starts_on = forms.DateField(label="First day", widget=DateInput)
    ends_on = forms.DateField(label="Last day", required=False, widget=DateInput)


class AcademyForm(forms.Form):
    name = forms.CharField(max_length=120)
    town = forms.CharField(max_length=120, required=False)
    time_zone = forms.CharField(
        max_length=64,
        help_text="Continent and city, for example Europe/Lisbon. Dates and times are shown in it.",
        widget=forms.TextInput(attrs={"list": "time-zones", "autocomplete": "off", "spellcheck": "false"}),
    )
    adhesive_days = forms.IntegerField(
        label="Days an opened adhesive is used",
        min_value=1,
        max_value=365,
        help_text="A reminder at the bench. The product label decides.",
    )
    room_c_low = forms.DecimalField(
        label="Room from, °C", min_value=Decimal(0), max_value=Decimal(50), max_digits=3, decimal_places=1
    )
    room_c_high = forms.DecimalField(
        label="Room to, °C",
        min_value=Decimal(0),
        max_value=Decimal(50),
        max_digits=3,
        decimal_places=1,
        help_text="The bench says when a set is opened outside this range. The product label decides.",
    )
    room_rh_low = forms.IntegerField(label="Humidity from, % RH", min_value=0, max_value=100)
    room_rh_high = forms.IntegerField(label="Humidity to, % RH", min_value=0, max_value=100)
    drill_days = forms.IntegerField(
        label="Days to do a drill",
        min_value=1,
        max_value=365,
        help_text="How long a student has for the drill picked at marking.",
    )

    def details(self) -> AcademyDetails:
        return AcademyDetails(**self.cleaned_data)

    @staticmethod
    def time_zones() -> list[str]:
        return sorted(name for name in available_timezones() if "/" in name and not name.startswith("Etc/"))


class AcceptForm(forms.Form):
    """What somebody new chooses when taking up a place."""

    name = forms.CharField(
        label="Your name",
        max_length=NAME_LENGTH,
        help_text="As it should stand on your records.",
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    password = forms.CharField(
        label="Password",
        required=False,
        strip=False,
        max_length=256,
        help_text="15 characters or more; a few words in a row work well. "
        "Leave it empty to sign in with a code sent by e-mail each time.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, email: str, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.email = email

    def clean(self) -> dict[str, Any]:
        password = self.cleaned_data.get("password")
        if password:
            try:
                validate_password(password, User(email=self.email, name=self.cleaned_data.get("name", "")))
            except forms.ValidationError as problem:
                self.add_error("password", problem)
        return self.cleaned_data

    @property
    def chosen_password(self) -> str | None:
        return self.cleaned_data["password"] or None
