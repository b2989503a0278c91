from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

from django import forms

from academy.forms import DateInput
from assessments.models import Need
from assessments.scoring.need_rules import KINDS, NeedRuleError, NeedRules, parse_need_rules
from assessments.selectors.needs import PRIORITY_WORDS
from assessments.services.needs import WantedNeed
from courses.models import Drill, Skill

PRIORITIES = [(number, words.capitalize()) for number, words in PRIORITY_WORDS.items()]


class NeedForm(forms.Form):
    """What an educator asks of a student by hand."""

    skill = forms.ModelChoiceField(Skill.objects.all(), empty_label="Choose a skill")
    drill = forms.ModelChoiceField(
        Drill.objects.all(), required=False, empty_label="No drill: the next graded set answers it"
    )
    count_target = forms.IntegerField(
        label="Until so many are clean",
        required=False,
        min_value=1,
        max_value=999,
        help_text="Left empty, the drill’s own count.",
    )
    due_on = forms.DateField(label="By", widget=DateInput)
    priority = forms.TypedChoiceField(label="How urgent", choices=PRIORITIES, coerce=int, initial=3)
    reason = forms.CharField(
        label="Why",
        max_length=240,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="The student reads it.",
    )

    def __init__(self, today: date, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"initial": {"due_on": today}, **kwargs})

    def wanted(self) -> WantedNeed:
        return WantedNeed(**self.cleaned_data)


class CountForm(forms.Form):
    done = forms.IntegerField(label="Done", min_value=1, max_value=999)
    clean_count = forms.IntegerField(label="Of these clean", min_value=0, max_value=999)
    note = forms.CharField(max_length=240, required=False, help_text="If there is something to remember.")


class NeedRulesForm(forms.Form):
    retest_days = forms.CharField(
        label="Retests, days after a success",
        required=False,
        max_length=60,
        help_text="Each later than the one before, such as 7, 28, 90, 180. Leave it empty for none.",
    )
    retest_gates_only = forms.BooleanField(label="Retest gate skills only", required=False)
    refresher_days = forms.IntegerField(label="A refresher after so many days without a graded set")
    regate_days = forms.IntegerField(
        label="A gate skill is marked again before live work after so many days",
        help_text="Local rules and the licensed educator decide who may work on a live model.",
    )
    regate_other_days = forms.IntegerField(label="Any other skill after so many days")
    drill_days = forms.IntegerField(label="Days to answer a fault or a weak skill")
    certainty = forms.IntegerField(
        label="A skill is weak when it is below its target with a certainty of, %",
        min_value=51,
        max_value=99,
        help_text="Higher: fewer false alarms, and weak skills are noticed later.",
    )
    weak_sets = forms.IntegerField(
        label="Graded sets before a skill is called weak",
        min_value=1,
        max_value=40,
        help_text="A beginner is below the target in everything; that is no need yet.",
    )
    most_weak = forms.IntegerField(
        label="Weak skills taken up at a time",
        min_value=1,
        max_value=40,
        help_text="The worst ones, gate skills first. Two is common practice.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        labels = dict(Need.Kind.choices)
        for kind in KINDS:
            self.fields[f"priority_{kind}"] = forms.TypedChoiceField(
                label=f"How urgent: {labels[kind]}", choices=PRIORITIES, coerce=int
            )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.errors:
            return data
        try:
            data["rules"] = self._rules(data)
            parse_need_rules(data["rules"])
        except NeedRuleError as error:
            self.add_error(error.field if error.field in self.fields else None, error.message)
        return data

    @staticmethod
    def of(rules: NeedRules) -> "NeedRulesForm":
        values = asdict(rules)
        values["retest_days"] = ", ".join(map(str, rules.retest_days))
        values["certainty"] = round(100 * rules.certainty)
        return NeedRulesForm(initial=values | {f"priority_{kind}": rules.priorities[kind] for kind in KINDS})

    @staticmethod
    def _rules(data: Mapping[str, Any]) -> dict[str, Any]:
        parts = data["retest_days"].replace(",", " ").split()
        if not all(part.isascii() and part.isdigit() for part in parts):
            raise NeedRuleError(
                "not_days", "Give whole days with commas between them, such as 7, 28, 90, 180.", "retest_days"
            )
        plain = (
            "retest_gates_only",
            "refresher_days",
            "regate_days",
            "regate_other_days",
            "drill_days",
            "weak_sets",
            "most_weak",
        )
        return {
            **{name: data[name] for name in plain},
            "retest_days": [int(part) for part in parts],
            "certainty": data["certainty"] / 100,
            "priorities": {kind: data[f"priority_{kind}"] for kind in KINDS},
        }
