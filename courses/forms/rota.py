from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from django import forms
from django.forms import BoundField

from academy.forms import DateInput
from courses.models import OpeningHours, Room, RotaRules, SessionKind, Skill, Weekday, WorkingHours
from courses.planning.availability import Hours
from courses.services.rota import RULES, KindContent

TIMES = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")


class RoomForm(forms.Form):
    name = forms.CharField(max_length=60)
    benches = forms.CharField(
        required=False,
        help_text="One name on each line. A bench taken out is kept for the records.",
        widget=forms.Textarea(attrs={"rows": 6}),
    )

    @staticmethod
    def initial_of(room: Room) -> dict[str, str]:
        return {"name": room.name, "benches": "\n".join(bench.name for bench in room.benches.all())}

    def bench_names(self) -> list[str]:
        return str(self.cleaned_data["benches"]).splitlines()


class KindForm(forms.Form):
    name = forms.CharField(max_length=60)
    form = forms.ChoiceField(label="What it is", choices=SessionKind.Form.choices, widget=forms.RadioSelect)
    minutes = forms.IntegerField(min_value=15, max_value=600, help_text="How long it lasts.")
    capacity = forms.IntegerField(
        label="Students for one educator",
        min_value=1,
        max_value=40,
        help_text="How many she can look after at the same time.",
    )

    def content(self) -> KindContent:
        return KindContent(**self.cleaned_data)


class WeekForm(forms.Form):
    """Up to two times a day; a day left empty is none."""

    def __init__(self, rows: Iterable[OpeningHours | WorkingHours], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        there: dict[int, list[OpeningHours | WorkingHours]] = {}
        for row in rows:
            there.setdefault(row.weekday, []).append(row)
        for day in Weekday:
            known = dict(enumerate(there.get(day, ())))
            for nth in range(2):
                self._add(day, nth, "starts", "from", known.get(nth))
                self._add(day, nth, "ends", "until", known.get(nth))

    def _add(
        self, day: Weekday, nth: int, end: str, word: str, row: OpeningHours | WorkingHours | None
    ) -> None:
        self.fields[f"{end}_{day}_{nth}"] = forms.TimeField(
            label=f"{day.label}, {'again ' if nth else ''}{word}",
            required=False,
            widget=TIMES,
            initial=getattr(row, end) if row else None,
        )

    def clean(self) -> dict[str, Any]:
        for day in Weekday:
            for nth in range(2):
                given = [self.cleaned_data.get(f"{end}_{day}_{nth}") for end in ("starts", "ends")]
                if any(given) and not all(given) and not self.errors:
                    missing = "starts" if given[0] is None else "ends"
                    self.add_error(
                        f"{missing}_{day}_{nth}", f"Enter both times for {day.label}, or leave both empty."
                    )
        return self.cleaned_data

    def hours(self) -> list[Hours]:
        data = self.cleaned_data
        return [
            Hours(int(day), data[f"starts_{day}_{nth}"], data[f"ends_{day}_{nth}"])
            for day in Weekday
            for nth in range(2)
            if data[f"starts_{day}_{nth}"]
        ]

    def days(self) -> Iterator[tuple[str, list[BoundField]]]:
        """The four fields of each day."""
        for day in Weekday:
            yield (
                day.label,
                [self[f"{end}_{day}_{nth}"] for nth in range(2) for end in ("starts", "ends")],
            )


class TaughtForm(forms.Form):
    skills = forms.ModelMultipleChoiceField(
        Skill.objects.all(),
        required=False,
        label="Skills taught",
        widget=forms.CheckboxSelectMultiple,
    )


class ClosedDayForm(forms.Form):
    on = forms.DateField(label="Day", widget=DateInput)
    reason = forms.CharField(max_length=120, required=False)


class TimeAwayForm(forms.Form):
    first_on = forms.DateField(label="First day away", widget=DateInput)
    last_on = forms.DateField(label="Last day away", widget=DateInput)


if TYPE_CHECKING:
    RulesBase = forms.ModelForm[RotaRules]
else:
    RulesBase = forms.ModelForm  # not subscriptable when it runs


class RulesForm(RulesBase):
    class Meta:
        model = RotaRules
        fields = RULES

    def _post_clean(self) -> None:
        """The service checks the whole and writes it: nothing is set on the row here."""
