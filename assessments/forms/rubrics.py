from collections.abc import Iterator, Mapping
from typing import Any

from django import forms
from django.db.models import QuerySet

from academy.errors import DomainError
from academy.forms import show_refusal
from assessments.forms.rule_inputs import RULE_INPUTS, order_problems, rule_from
from assessments.models import Criterion, HygieneLine, RubricVersion
from assessments.services.rubric_drafts import CriterionContent, LineContent
from assessments.services.rubric_problems import LEVELS, Sampling
from courses.models import Fault

NEW_LINES = 3
FAULT_KEYS = {
    "counted": ("faults", "floor_faults"),
    "window": ("floor_faults",),
    "deviation": ("faults",),
}
FAULT_LABELS = {"faults": "Faults that count", "floor_faults": "Any one of these means level 0"}
CAP_CHOICES = [("", "no limit"), *((str(level), f"level {level} at most") for level in range(4))]


class CriterionForm(forms.Form):
    """One criterion of a draft; which thresholds there are depends on the kind of its rule."""

    name = forms.CharField(max_length=80)
    weight = forms.DecimalField(min_value=0, max_value=99, max_digits=4, decimal_places=2)
    is_gate = forms.BooleanField(
        label="It is a gate", required=False, help_text="A gate stands beside the score: no average hides it."
    )
    gate_min = forms.TypedChoiceField(
        label="Level a gate needs", coerce=int, choices=[(level, f"level {level}") for level in range(1, 5)]
    )
    blocks_time = forms.BooleanField(label="Under level 2 it takes the time credit away", required=False)

    def __init__(self, criterion: Criterion, faults: list[Fault], data: Mapping[str, Any] | None) -> None:
        self.criterion = criterion
        self.faults = [fault for fault in faults if fault.at_bench]
        super().__init__(data, initial=_initial(criterion))
        for each in RULE_INPUTS[criterion.kind]:
            self.fields[each.name] = each.field()
        for key in FAULT_KEYS.get(criterion.kind, ()):
            self.fields[key] = self._fault_choice(key)
        for fault in self._capped():
            self.fields[f"cap_{fault.code}"] = forms.ChoiceField(
                label=f"With any {fault.name.lower()} ({fault.code})", choices=CAP_CHOICES, required=False
            )
        for level in reversed(range(LEVELS)):
            self.fields[f"level_{level}"] = forms.CharField(
                label=f"Level {level} in words", max_length=240, widget=forms.Textarea(attrs={"rows": 2})
            )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for field, message in order_problems(self.criterion.kind, data):
            self.add_error(field, message)
        return data

    def content(self) -> CriterionContent:
        data = self.cleaned_data
        return CriterionContent(
            name=data["name"],
            weight=data["weight"],
            is_gate=data["is_gate"],
            gate_min=data["gate_min"],
            blocks_time=data["blocks_time"],
            rule=self._rule(),
            descriptors=[data[f"level_{level}"] for level in range(LEVELS)],
        )

    def show_refusal(self, error: DomainError) -> None:
        """A rule's entry may be spread over several fields; the first of them shows what is wrong."""
        entry = str(error.details.get("field", ""))
        if entry not in self.fields and f"{entry}_0" in self.fields:
            self.add_error(f"{entry}_0", error.message)
        else:
            show_refusal(self, error)

    def rule_fields(self) -> list[forms.BoundField]:
        names = [each.name for each in RULE_INPUTS[self.criterion.kind]]
        return [self[name] for name in names]

    def fault_fields(self) -> list[forms.BoundField]:
        return [self[key] for key in FAULT_KEYS.get(self.criterion.kind, ())]

    def cap_fields(self) -> list[forms.BoundField]:
        return [self[f"cap_{fault.code}"] for fault in self._capped()]

    def level_fields(self) -> list[forms.BoundField]:
        return [self[f"level_{level}"] for level in reversed(range(LEVELS))]

    def _rule(self) -> dict[str, Any]:
        data = self.cleaned_data
        rule = rule_from(self.criterion.kind, self.criterion.rule, data)
        for key in FAULT_KEYS.get(self.criterion.kind, ()):
            rule[key] = data[key]
        if self.criterion.kind == "judged":
            caps = {fault.code: data.get(f"cap_{fault.code}") for fault in self._capped()}
            rule["caps"] = {code: int(level) for code, level in caps.items() if level}
        return rule

    def _fault_choice(self, key: str) -> forms.MultipleChoiceField:
        """A single fault that means level 0 belongs to a gate skill, or is named in the rule already."""
        chosen = self.criterion.rule.get(key, [])
        offered = [
            fault for fault in self.faults if key == "faults" or fault.skill.is_gate or fault.code in chosen
        ]
        return forms.MultipleChoiceField(
            label=FAULT_LABELS[key],
            choices=[(fault.code, f"{fault.name} ({fault.code})") for fault in offered],
            required=key == "faults" and self.criterion.kind == "counted",
            widget=forms.CheckboxSelectMultiple,
        )

    def _capped(self) -> list[Fault]:
        """Faults of a judged criterion's own skill, and those that limit it already."""
        if self.criterion.kind != "judged":
            return []
        caps = self.criterion.rule.get("caps", {})
        return [
            fault for fault in self.faults if fault.code in caps or fault.skill_id == self.criterion.skill_id
        ]


class SamplingForm(forms.Form):
    per_zone = forms.IntegerField(
        label="Fans inspected a zone, each eye",
        min_value=1,
        max_value=20,
        help_text="5 in four zones is 40 a set.",
    )
    gaps_per_zone = forms.IntegerField(label="Of these, lid gaps measured", min_value=0, max_value=20)
    directions_per_zone = forms.IntegerField(label="Of these, directions measured", min_value=0, max_value=20)
    pairs_per_zone = forms.IntegerField(
        label="Of these, at the same place on both eyes, lengths measured", min_value=0, max_value=20
    )

    def sampling(self) -> Sampling:
        return Sampling(**self.cleaned_data)


class HygieneLinesForm(forms.Form):
    """All lines of a draft and a few empty ones; a line whose words are removed goes."""

    def __init__(self, lines: list[HygieneLine], data: Mapping[str, Any] | None) -> None:
        super().__init__(data)
        self.codes = [line.code for line in lines] + [""] * NEW_LINES
        for place, line in enumerate([*lines, *[None] * NEW_LINES]):
            self.fields[f"text_{place}"] = forms.CharField(
                label=f"Line {place + 1}", max_length=160, required=False, initial=line.text if line else ""
            )
            self.fields[f"critical_{place}"] = forms.BooleanField(
                label=f"Line {place + 1} is critical: missing it means level 0",
                required=False,
                initial=line.is_critical if line else False,
            )

    def rows(self) -> Iterator[tuple[forms.BoundField, forms.BoundField]]:
        for place in range(len(self.codes)):
            yield self[f"text_{place}"], self[f"critical_{place}"]

    def lines(self) -> list[LineContent]:
        data = self.cleaned_data
        return [
            LineContent(code, data[f"text_{place}"], data[f"critical_{place}"])
            for place, code in enumerate(self.codes)
        ]


class BriefRubricForm(forms.Form):
    def __init__(
        self, published: QuerySet[RubricVersion], chosen: int | None, data: Mapping[str, Any] | None
    ) -> None:
        super().__init__(data)
        self.fields["version"] = forms.ModelChoiceField(
            label="Marked with",
            queryset=published,
            required=False,
            initial=chosen,
            empty_label="The academy's newest published version",
            widget=forms.RadioSelect,
            blank=True,
        )


def _initial(criterion: Criterion) -> dict[str, Any]:
    rule = criterion.rule
    plain = ("name", "weight", "is_gate", "gate_min", "blocks_time")
    return {
        **{name: getattr(criterion, name) for name in plain},
        **{each.name: each.shown(rule) for each in RULE_INPUTS[criterion.kind]},
        **{key: rule.get(key, []) for key in FAULT_LABELS},
        **{f"cap_{code}": str(level) for code, level in rule.get("caps", {}).items()},
        **{f"level_{each.level}": each.text for each in criterion.descriptors.all()},
    }
