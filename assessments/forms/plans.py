from django import forms


class PlanForm(forms.Form):
    weeks = forms.TypedChoiceField(
        label="Weeks ahead",
        choices=[(1, "1 week"), (2, "2 weeks"), (3, "3 weeks"), (4, "4 weeks"), (6, "6 weeks")],
        coerce=int,
        initial=2,
    )
    time_limit_s = forms.TypedChoiceField(
        label="Time to look for a better plan",
        choices=[(10, "10 seconds"), (30, "30 seconds"), (60, "1 minute")],
        coerce=int,
        initial=10,
        help_text="It stops earlier once no better plan can exist. Large schools gain by a minute.",
    )


class DecisionForm(forms.Form):
    """Which line is decided, and how; without a line all of them are accepted."""

    line = forms.IntegerField(required=False)
    decision = forms.ChoiceField(choices=[("accept", "accept"), ("refuse", "refuse")])
