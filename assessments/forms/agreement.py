from django import forms

from academy.forms import DateInput


class UntilForm(forms.Form):
    until = forms.DateField(
        label="Marks up to",
        required=False,
        widget=DateInput,
        help_text="Leave it empty to count everything signed so far.",
    )
