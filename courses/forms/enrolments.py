from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django import forms
from django.db.models import QuerySet

from academy.models import Membership
from courses.models import ProgrammeUnit, ProgrammeVersion
from courses.selectors.enrolments import UnitState

if TYPE_CHECKING:
    StudentsBase = forms.ModelMultipleChoiceField[Membership]
    VersionBase = forms.ModelChoiceField[ProgrammeVersion]
else:  # not subscriptable when it runs
    StudentsBase = forms.ModelMultipleChoiceField
    VersionBase = forms.ModelChoiceField


class StudentsField(StudentsBase):
    """Students to tick, each with her cohort."""

    widget = forms.CheckboxSelectMultiple

    def label_from_instance(self, student: Membership) -> str:
        return f"{student.name}, {student.cohort.name}" if student.cohort else student.name


class VersionField(VersionBase):
    widget = forms.RadioSelect

    def label_from_instance(self, version: ProgrammeVersion) -> str:
        return str(version)


class EnrolForm(forms.Form):
    version = VersionField(label="Programme", queryset=ProgrammeVersion.objects.none(), empty_label=None)
    students = StudentsField(
        label="Students",
        queryset=Membership.objects.none(),
        error_messages={"required": "Tick at least one student."},
    )

    def __init__(
        self,
        versions: QuerySet[ProgrammeVersion],
        students: QuerySet[Membership],
        *args: Any,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["version"].queryset = versions  # type: ignore[attr-defined]
        self.fields["students"].queryset = students  # type: ignore[attr-defined]


class ReasonForm(forms.Form):
    reason = forms.CharField(
        label="Reason",
        max_length=400,
        help_text="It stays with the record.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class SignOffForm(forms.Form):
    units = forms.TypedMultipleChoiceField(
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one unit to sign off."},
    )
    passed = forms.TypedChoiceField(
        label="What you saw",
        choices=[("yes", "Passed"), ("no", "Not passed yet")],
        coerce=lambda chosen: chosen == "yes",
        initial="yes",
        widget=forms.RadioSelect,
    )
    note = forms.CharField(
        required=False,
        max_length=400,
        help_text="When it is not passed yet: what is still missing. The student reads it.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, states: Sequence[UnitState], *args: Any, **kwargs: Any) -> None:
        """Units still to pass come first."""
        super().__init__(*args, **kwargs)
        self.by_key = {state.unit.pk: state.unit for state in states}
        self.fields["units"].choices = [  # type: ignore[attr-defined]
            (state.unit.pk, f"{state.unit.title} ({state.unit.kind}): {state.words}")
            for state in sorted(states, key=lambda state: state.is_passed)
        ]

    def chosen_units(self) -> list[ProgrammeUnit]:
        return [self.by_key[key] for key in self.cleaned_data["units"]]
