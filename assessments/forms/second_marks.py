from collections.abc import Sequence
from typing import Any

from django import forms

from assessments.forms.marks import MarksForm
from assessments.models import Criterion, HygieneLine
from assessments.services.second_choice import MAX_ONE_IN, MAX_REASON
from assessments.services.second_marks import MAX_TEXT


class SecondMarksForm(MarksForm):
    """Marks of a blind second look: no drill, and a note that the student never reads."""

    def __init__(
        self, *args: Any, criteria: Sequence[Criterion], lines: Sequence[HygieneLine], **kwargs: Any
    ) -> None:
        super().__init__(*args, criteria=criteria, lines=lines, drills=[], **kwargs)
        self.fields["note"].label = "Note for your talk with the first educator"
        self.fields["note"].help_text = "The student never sees it."


class RateForm(forms.Form):
    one_in = forms.IntegerField(
        label="One signed set in how many gets a second mark",
        min_value=0,
        max_value=MAX_ONE_IN,
        help_text="5 means about every fifth set. 0 turns second marks off; those already waiting stay.",
    )


class WaiveForm(forms.Form):
    reason = forms.CharField(
        label="Why nobody marks it again",
        max_length=MAX_REASON,
        help_text="For example: the set is off the head already.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class NoteForm(forms.Form):
    text = forms.CharField(
        label="What you agreed",
        max_length=MAX_TEXT,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Write what you agreed, then keep it."},
    )
