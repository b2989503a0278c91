from django import forms

MOST_STUDENTS = 60
MOST_SETS = 999


class SuppliesForm(forms.Form):
    """How many students do a brief in one session; their stage decides the time, and so the drops."""

    students = forms.IntegerField(
        label="Students in the session", min_value=1, max_value=MOST_STUDENTS, initial=1
    )
    nth_set = forms.IntegerField(
        label="At the time for set number", min_value=1, max_value=MOST_SETS, initial=1
    )

    def counts(self) -> dict[str, int]:
        """``students`` and ``nth_set``; 1 where what is typed cannot be."""
        self.full_clean()
        return {name: self.cleaned_data.get(name, 1) for name in self.fields}
