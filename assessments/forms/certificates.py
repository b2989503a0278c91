"""What staff give when something happens to a certificate."""

from django import forms

from academy.services.people import NAME_LENGTH

REASON_LENGTH = 400


class ReasonForm(forms.Form):
    reason = forms.CharField(
        max_length=REASON_LENGTH,
        help_text="Kept for good and shown to the holder; not on the public check page.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class ReissueForm(ReasonForm):
    name = forms.CharField(
        label="Name as it is now",
        max_length=NAME_LENGTH,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    field_order = ("name", "reason")
