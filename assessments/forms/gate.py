from django import forms

from assessments.services.gate import MOST_WORDS


class CloseGateForm(forms.Form):
    reason = forms.CharField(
        label="Why the gate is closed",
        max_length=MOST_WORDS,
        help_text="The student reads it. It opens again only by two new signatures.",
        widget=forms.Textarea(attrs={"rows": 4}),
        error_messages={"required": "Say why, then close it."},
    )
