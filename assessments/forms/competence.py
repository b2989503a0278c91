from collections.abc import Mapping
from copy import deepcopy
from dataclasses import asdict
from math import ceil
from typing import Any, cast

from django import forms

from assessments.scoring.characteristics import risks
from assessments.scoring.competence_rules import CompetenceInputError, LearningCusum
from assessments.scoring.lapse import alarm_threshold, watch_risks
from assessments.scoring.mastery import MasteryConditions
from assessments.scoring.programme_rules import (
    PRESETS,
    ProgrammeRule,
    parse_programme,
    parse_rule,
    rule_kinds,
)

OWN = "own"
FANS = "fans"
OF_KIND = {
    "learning_cusum": ("risk",),
    "wald": ("refuse_risk", "declare_risk"),
    "run": ("length",),
    "fans": ("refuse_risk", "declare_risk"),
}
SHARES = ("acceptable_rate", "inadequate_rate", "risk", "refuse_risk", "declare_risk", "watch_risk")
# What a fan-by-fan rule is watched by: sets, as every rule is.
WATCHED_SETS = (0.10, 0.50)


NEEDED = {"required": "Give a number."}


def _share(label: str, help_text: str = "") -> forms.FloatField:
    return forms.FloatField(
        label=label, help_text=help_text, min_value=0, max_value=100, error_messages=NEEDED
    )


def _count(label: str, help_text: str = "") -> forms.IntegerField:
    return forms.IntegerField(
        label=label, help_text=help_text, min_value=1, max_value=400, error_messages=NEEDED
    )


class RuleForm(forms.Form):
    """A preset, or the rates typed in; shares are in percent."""

    preset = forms.ChoiceField(label="How a student is declared competent", widget=forms.RadioSelect)
    kind = forms.ChoiceField(label="Kind of rule", choices=list(rule_kinds.items()))
    acceptable_rate = _share(
        "A student is ready who fails at most, %", "Of sets; of fans where fans are counted."
    )
    inadequate_rate = _share("A student is not ready who fails, %", "The two rates the rule tells apart.")
    horizon = _count("Within so many sets", "The risks hold for these.")
    risk = _share("Risk to declare one who is not ready, %")
    declare_risk = _share("Risk to declare one who is not ready, %")
    refuse_risk = _share("Risk to turn away one who is ready, %")
    length = _count("Passes in a row")
    is_watched = forms.BooleanField(
        label="Watch later sets and send to review when work slips", required=False
    )
    watch_risk = _share("Risk to send good work to review, %")

    def __init__(self, programme: Mapping[str, Any], data: Any = None, *, counted: bool) -> None:
        super().__init__(data, initial=initial_of(programme))
        self.offered = [code for code, preset in PRESETS.items() if counted or _kind(preset) != FANS]
        if data is not None:
            self._ask_only(_asked(data))
        names = [(code, str(PRESETS[code]["name"])) for code in self.offered]
        cast(forms.ChoiceField, self.fields["preset"]).choices = [*names, (OWN, "Own rates")]
        if not counted:
            kinds = [each for each in rule_kinds.items() if each[0] != FANS]
            cast(forms.ChoiceField, self.fields["kind"]).choices = kinds

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.errors:
            return data
        try:
            data["programme"] = self._own() if data["preset"] == OWN else deepcopy(PRESETS[data["preset"]])
            parse_programme(data["programme"])
        except CompetenceInputError as error:
            self.add_error(error.field if error.field in self.fields else None, error.message)
        return data

    def programme(self) -> dict[str, Any]:
        return cast(dict[str, Any], self.cleaned_data["programme"])

    def presets(self) -> dict[str, dict[str, Any]]:
        """What each preset would fill in, for the script."""
        return {code: initial_of(PRESETS[code]) for code in self.offered}

    def _ask_only(self, names: set[str]) -> None:
        for name in ("kind", *SHARES, "horizon", "length"):
            self.fields[name].required = name in names

    def _own(self) -> dict[str, Any]:
        kind = self.cleaned_data["kind"]
        names = ("acceptable_rate", "inadequate_rate", "horizon", *OF_KIND[kind])
        entries = {"kind": kind, **{name: self._entry(name) for name in names}}
        rule = parse_rule(entries)
        if isinstance(rule, LearningCusum):  # the record says what is applied, not what it was found from
            entries = {name: value for name, value in entries.items() if name != "risk"}
            entries["threshold"] = rule.threshold
        watch = self._watch(kind, rule.horizon) if self.cleaned_data["is_watched"] else None
        return {"name": "Own rates", "rule": entries, "watch": watch}

    def _watch(self, kind: str, horizon: int) -> dict[str, Any]:
        ready, slipped = WATCHED_SETS
        if kind != FANS:
            ready, slipped = self._entry("acceptable_rate"), self._entry("inadequate_rate")
        risk = self._entry("watch_risk")
        if not 0 < risk < 0.5:
            raise CompetenceInputError(
                "risk_out_of_range", "Give a risk of more than 0 and less than 50 %.", "watch_risk"
            )
        return {
            "acceptable_rate": ready,
            "inadequate_rate": slipped,
            "threshold": alarm_threshold(ready, slipped, horizon, risk),
            "horizon": horizon,
        }

    def _entry(self, name: str) -> float:
        value: float = self.cleaned_data[name]
        return round(value / 100, 6) if name in SHARES else value


def _asked(data: Mapping[str, Any]) -> set[str]:
    """The fields that what was sent has to fill."""
    if data.get("preset") != OWN:
        return set()
    asked = {"kind", "acceptable_rate", "inadequate_rate", "horizon", *OF_KIND.get(data.get("kind", ""), ())}
    return asked | {"watch_risk"} if data.get("is_watched") else asked


class MasteryForm(forms.Form):
    sets = forms.IntegerField(label="Last sets that are looked at", min_value=1, max_value=40)
    days = forms.IntegerField(label="On so many different days", min_value=1, max_value=40)
    level = forms.IntegerField(label="Every criterion at level", min_value=0, max_value=4)
    faults_allowed = forms.IntegerField(label="Gate faults allowed", min_value=0, max_value=4000)
    inspected = forms.IntegerField(
        label="In so many fans inspected",
        min_value=1,
        max_value=4000,
        help_text="All these sets together; at least so many must be inspected.",
    )
    blind_marks = forms.IntegerField(
        label="Sets also marked blind by another educator", min_value=0, max_value=40
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not self.errors:
            try:
                MasteryConditions(**data)
            except CompetenceInputError as error:
                self.add_error(error.field, error.message)
        return data

    @classmethod
    def of(cls, conditions: MasteryConditions) -> "MasteryForm":
        return cls(initial=asdict(conditions))


def initial_of(programme: Mapping[str, Any]) -> dict[str, Any]:
    """The fields that would give ``programme`` back, shares in percent."""
    found = parse_programme(programme)
    preset = next((code for code, data in PRESETS.items() if data == programme), OWN)
    entries = {name: value for name, value in asdict(found.rule).items() if name in RuleForm.base_fields}
    filled = {"preset": preset, "kind": _kind(programme), **entries, "is_watched": found.watch is not None}
    filled |= _risks(found)  # shares, rounded up: so they ask for the very thresholds they come from
    return {name: f"{100 * value:.4g}" if name in SHARES else value for name, value in filled.items()}


def _risks(programme: ProgrammeRule) -> dict[str, float]:
    """Risks that the programme keeps as thresholds."""
    found: dict[str, float] = {}
    if isinstance(programme.rule, LearningCusum):
        found["risk"] = _rounded_up(risks(programme.rule).false_declared)
    if programme.watch:
        found["watch_risk"] = _rounded_up(watch_risks(programme.watch).false_alarm)
    return found


def _rounded_up(share: float) -> float:
    """To a hundredth of a percent."""
    return ceil(10_000 * share) / 10_000


def _kind(programme: Mapping[str, Any]) -> str:
    return str(programme["rule"]["kind"])
