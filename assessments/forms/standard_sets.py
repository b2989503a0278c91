from collections.abc import Sequence

from django import forms

from assessments.forms.marks import LEVELS
from assessments.models import Criterion
from assessments.services.standard_sets import MAX_WHY


class ChooseForm(forms.Form):
    why = forms.CharField(
        label="What to look at",
        max_length=MAX_WHY,
        required=False,
        help_text="For example: bases that are neither clearly wrapped nor clearly open.",
    )


class StandardMarksForm(forms.Form):
    """A level on each criterion, from the recorded findings; one left empty is not judged."""

    def __init__(self, *args: object, criteria: Sequence[Criterion], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.criteria = criteria
        for criterion in criteria:
            self.fields[criterion.code] = forms.TypedChoiceField(
                coerce=int,
                empty_value=None,
                required=False,
                choices=LEVELS,
                widget=forms.RadioSelect,
                label=criterion.name,
            )

    def levels(self) -> dict[str, int]:
        return {code: level for code, level in self.cleaned_data.items() if level is not None}
