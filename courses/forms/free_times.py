from django import forms

from academy.forms import DateInput


class ExceptionForm(forms.Form):
    on = forms.DateField(label="Day", widget=DateInput)
    starts = forms.TimeField(
        label="From",
        required=False,
        help_text="Leave both times empty for a day on which you cannot come at all.",
        widget=forms.TimeInput(attrs={"type": "time"}),
    )
    ends = forms.TimeField(label="Until", required=False, widget=forms.TimeInput(attrs={"type": "time"}))
