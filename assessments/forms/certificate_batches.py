from typing import Any

from django import forms

from assessments.models import CertificateBatch
from assessments.selectors.certificate_batches import CohortToPrint


class BatchForm(forms.Form):
    """Which cohort, and as what. Given only cohorts that have something to print."""

    cohort = forms.TypedChoiceField(coerce=int)
    kind = forms.ChoiceField(
        label="As", choices=CertificateBatch.Kind.choices, initial="pdf", widget=forms.RadioSelect
    )

    def __init__(self, *args: Any, cohorts: list[CohortToPrint], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cohort"].choices = [(row.cohort.pk, _label(row)) for row in cohorts]  # type: ignore[attr-defined]


def _label(row: CohortToPrint) -> str:
    counted = f"{row.certificates} certificate{'' if row.certificates == 1 else 's'}"
    return f"{row.cohort.name}: {counted}"
