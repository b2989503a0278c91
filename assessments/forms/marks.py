from collections.abc import Sequence
from typing import Any, cast
from uuid import uuid4

from django import forms

from academy.templatetags.ui import IN_FULL
from assessments.models import Criterion, HygieneLine
from assessments.scoring.entry import MAX_COUNT, MAX_NOTE, MAX_REASON, EntryProblem, MarkEntry
from assessments.selectors.marking import DrillChoice

COUNT_ERRORS = {
    "min_value": "%(show_value)s cannot be counted. Enter %(limit_value)s or more.",
    "max_value": "%(show_value)s is too many. Enter %(limit_value)s or fewer.",
    "invalid": "This is no whole number. Enter how many.",
}
LEVELS = [(str(level), str(level)) for level in range(5)]


class NoteField(forms.CharField):
    """A browser sends each line break as two characters; the person typed one."""

    def to_python(self, value: Any) -> str:
        return str(super().to_python(value)).replace("\r\n", "\n")


class CountField(forms.IntegerField):
    """Things that somebody counted, or was too busy to count."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, max_value=MAX_COUNT, error_messages=COUNT_ERRORS, **kwargs)


class MarksForm(forms.Form):
    """Marks of one set. A level left empty means as proposed.

    ``revision`` catches stale tabs, ``uid`` a form sent twice.
    """

    lines_done = forms.MultipleChoiceField(
        required=False, widget=forms.CheckboxSelectMultiple, label="Hygiene lines met"
    )
    lines_seen = forms.BooleanField(required=False, label="I have looked at the hygiene lines")
    left_count = CountField(min_value=0, label="Fans placed, left eye")
    right_count = CountField(min_value=0, label="Fans placed, right eye")
    note = NoteField(
        required=False,
        label="Note to the student",
        widget=forms.Textarea(attrs={"rows": 4}),
        max_length=MAX_NOTE,
        error_messages={"max_length": f"The note has %(show_value)d characters. Shorten it to {MAX_NOTE}."},
    )
    drill = forms.ChoiceField(required=False, label="Drill until the next set")
    drill_count = CountField(min_value=1, label="How many")
    uid = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    revision = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        *args: object,
        criteria: Sequence[Criterion],
        lines: Sequence[HygieneLine],
        drills: Sequence[DrillChoice],
        correcting: bool = False,
        **kwargs: object,
    ) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.criteria = criteria
        self.line_codes = [line.code for line in lines]
        self._offer("lines_done", [(line.code, line.text) for line in lines])
        self._offer(
            "drill", [("", "No drill"), *((choice.drill.code, choice.drill.name) for choice in drills)]
        )
        for criterion in criteria:
            self._ask_about(criterion)
        if correcting:
            self._ask_why()

    def _ask_about(self, criterion: Criterion) -> None:
        self.fields[f"level_{criterion.code}"] = forms.TypedChoiceField(
            coerce=int,
            empty_value=None,
            required=False,
            choices=LEVELS,
            widget=forms.RadioSelect,
            label=criterion.name,
        )
        self.fields[f"reason_{criterion.code}"] = forms.CharField(
            required=False, max_length=MAX_REASON, label=f"Why {criterion.name} differs"
        )

    def _ask_why(self) -> None:
        self.fields["reason"] = forms.CharField(
            max_length=1000,
            label="Why the signed marks are corrected",
            widget=forms.Textarea(attrs={"rows": 2}),
            error_messages={"required": "Say why the signed marks are corrected."},
        )

    def _offer(self, name: str, choices: list[tuple[str, str]]) -> None:
        cast(forms.ChoiceField, self.fields[name]).choices = choices

    def entry(self) -> MarkEntry:
        data = self.cleaned_data
        done = set(data["lines_done"])
        missed = tuple(code for code in self.line_codes if code not in done)
        return MarkEntry(
            lines_missed=missed if data["lines_seen"] or done else None,
            left_count=data["left_count"],
            right_count=data["right_count"],
            levels=self._chosen("level_"),
            reasons=self._chosen("reason_"),
            note=data["note"],
            drill=data["drill"],
            drill_count=data["drill_count"],
        )

    def _chosen(self, prefix: str) -> dict[str, Any]:
        found = {row.code: self.cleaned_data[f"{prefix}{row.code}"] for row in self.criteria}
        return {code: value for code, value in found.items() if value not in (None, "")}

    def add_problems(self, problems: Sequence[EntryProblem]) -> None:
        for problem in problems:
            field = problem.field if problem.field in self.fields else None
            self.add_error(field, forms.ValidationError(problem.message, code=IN_FULL))


def initial_of(entry: MarkEntry, lines: Sequence[HygieneLine]) -> dict[str, object]:
    """The form's first values from a draft or an earlier revision."""
    missed = entry.lines_missed
    return {
        "lines_seen": missed is not None,
        "lines_done": [] if missed is None else [line.code for line in lines if line.code not in missed],
        "left_count": entry.left_count,
        "right_count": entry.right_count,
        "note": entry.note,
        "drill": entry.drill,
        "drill_count": entry.drill_count,
        **{f"level_{code}": str(level) for code, level in entry.levels.items()},
        **{f"reason_{code}": reason for code, reason in entry.reasons.items()},
    }
