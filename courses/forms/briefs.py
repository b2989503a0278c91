from collections.abc import Iterator
from typing import Any

from django import forms

from courses.mapping.lash_map import (
    BOTH,
    LONGEST_MM,
    SHORTEST_MM,
    Fan,
    LashMap,
    MapError,
    cell,
    uniform_map,
)
from courses.models import Difficulty, FanShape
from courses.selectors.briefs import BriefSearch
from courses.services.brief_content import LONGEST_MIN, SHORTEST_MIN, BriefContent, brief_problems
from courses.words import CURLS, DIAMETERS, LAYER_WORDS, LAYERS, LAYERS_FOR, ZONE_WORDS, ZONES

STAGES = 5
LAYER_CHOICES = [
    (len(layers), ", ".join(LAYER_WORDS[layer] for layer in layers)) for layers in LAYERS_FOR.values()
]
DIAMETER_CHOICES = [(each, f"{each / 100:.2f} mm") for each in DIAMETERS]
# Where a problem of the content is shown when its field is spread over many inputs.
SHOWN_AT = {"targets": None, "silenced": None}
POINTED_AT = {"/opening_deg": "opening_min_deg", "/filaments": "filaments", "/curl": "curl"}


class BriefForm(forms.Form):
    """A whole brief. Lengths of layers that are not chosen may stay typed; they are not saved."""

    name = forms.CharField(max_length=80)
    style = forms.CharField(max_length=60, help_text="In a word or two: classic, hybrid, soft volume.")
    fan_shape = forms.ChoiceField(label="Fan shape", choices=FanShape.choices, widget=forms.RadioSelect)
    opening_min_deg = forms.IntegerField(label="Opening from, °", required=False, min_value=1, max_value=120)
    opening_max_deg = forms.IntegerField(label="Opening to, °", required=False, min_value=1, max_value=120)
    curl = forms.ChoiceField(choices=[(curl, curl) for curl in CURLS])
    diameter_hundredths = forms.TypedChoiceField(
        label="Diameter", coerce=int, choices=DIAMETER_CHOICES, initial=7
    )
    filaments = forms.IntegerField(label="Filaments a fan", min_value=1, max_value=30)
    lashes_per_eye = forms.IntegerField(label="Usable lashes an eye", min_value=20, max_value=200, initial=80)
    coverage_percent = forms.IntegerField(
        label="Of these to be covered, %", min_value=10, max_value=100, initial=100
    )
    layer_count = forms.TypedChoiceField(
        label="Layers", coerce=int, choices=LAYER_CHOICES, initial=2, widget=forms.RadioSelect
    )
    difficulty = forms.ChoiceField(
        label="Written for", choices=[("", "Not said"), *Difficulty.choices], required=False
    )
    notes = forms.CharField(max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 4}))
    base = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for layer in LAYERS:
            for zone in ZONES:
                self.fields[_length_field(zone, layer)] = _length_input(zone, layer)
        for stage in range(STAGES):
            self.fields[f"from_{stage}"], self.fields[f"minutes_{stage}"] = _stage_inputs(stage)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for stage in range(STAGES):
            self._check_stage(stage, data)
        if not self.errors:
            self._check_content()
        return data

    def _check_content(self) -> None:
        try:
            problems = brief_problems(self.content())
        except MapError as error:
            self.add_error(POINTED_AT.get(error.pointer), error.message)
            return
        for problem in problems:
            self.add_error(SHOWN_AT.get(problem.field, problem.field), problem.message)

    def content(self) -> BriefContent:
        data = self.cleaned_data
        plain = ("name", "style", "difficulty", "coverage_percent", "lashes_per_eye", "notes")
        return BriefContent(
            **{field: data[field] for field in plain},
            lash_map=self._lash_map(),
            targets=tuple(_stages(data)),
        )

    def _lash_map(self) -> LashMap:
        data = self.cleaned_data
        fan = Fan(
            shape=data["fan_shape"],
            filaments=data["filaments"],
            diameter_hundredths=data["diameter_hundredths"],
            curl=data["curl"],
            opening_min_deg=data["opening_min_deg"],
            opening_max_deg=data["opening_max_deg"],
        )
        layers = LAYERS_FOR[data["layer_count"]]
        lengths = {(zone, layer): data.get(_length_field(zone, layer)) for layer in layers for zone in ZONES}
        return uniform_map(
            ZONES, layers, {place: length for place, length in lengths.items() if length is not None}, fan
        )

    @staticmethod
    def initial_of(content: BriefContent, base: int) -> dict[str, object]:
        """What the form shows when version ``base`` is to be revised."""
        plain = ("name", "style", "difficulty", "coverage_percent", "lashes_per_eye", "notes")
        stages = {
            f"{name}_{stage}": value
            for stage, target in enumerate(content.targets)
            for name, value in zip(("from", "minutes"), target, strict=True)
        }
        return (
            {name: getattr(content, name) for name in plain}
            | stages
            | _map_initial(content.lash_map)
            | {"base": base}
        )

    def start_from(self, number: int) -> None:
        """Once warned that somebody made version ``number``, the next save is meant to follow it."""
        self.data = {name: self.data[name] for name in self.data} | {"base": str(number)}

    @staticmethod
    def zone_names() -> list[str]:
        return list(ZONE_WORDS.values())

    def length_rows(self) -> Iterator[tuple[str, list[forms.BoundField]]]:
        """For the template: the words of a layer and its inputs from the nose outwards."""
        for layer in LAYERS:
            yield LAYER_WORDS[layer], [self[_length_field(zone, layer)] for zone in ZONES]

    def stage_rows(self) -> Iterator[tuple[forms.BoundField, forms.BoundField]]:
        for stage in range(STAGES):
            yield self[f"from_{stage}"], self[f"minutes_{stage}"]

    def _check_stage(self, stage: int, data: dict[str, Any]) -> None:
        names = (f"from_{stage}", f"minutes_{stage}")
        filled = [data.get(name) is not None or name in self.errors for name in names]
        if any(filled) and not all(filled):
            self.add_error(
                names[filled.index(False)], "Fill in both the set number and the minutes, or empty both."
            )


class BriefSearchForm(forms.Form):
    style = forms.CharField(label="Name or style", max_length=60, required=False)
    fan_shape = forms.ChoiceField(label="Fan shape", choices=[("", "Any"), *FanShape.choices], required=False)
    diameter_hundredths = forms.TypedChoiceField(
        label="Diameter",
        coerce=int,
        empty_value=None,
        choices=[("", "Any"), *DIAMETER_CHOICES],
        required=False,
    )
    difficulty = forms.ChoiceField(
        label="Written for", choices=[("", "Any"), *Difficulty.choices], required=False
    )
    nth = forms.IntegerField(label="Target for set number", min_value=1, max_value=999, required=False)

    def search(self) -> BriefSearch:
        data = self.cleaned_data if self.is_valid() else {}
        return BriefSearch(
            style=data.get("style", ""),
            fan_shape=data.get("fan_shape", ""),
            diameter_hundredths=data.get("diameter_hundredths"),
            difficulty=data.get("difficulty", ""),
        )

    def nth_set(self) -> int:
        return self.cleaned_data.get("nth") or 1 if self.is_valid() else 1


def _map_initial(lash_map: LashMap) -> dict[str, object]:
    """A map of one fan and one length a cell, as this form can show it."""
    first = cell(
        lash_map, BOTH if lash_map.eyes == "mirror" else "left", lash_map.zones[0], lash_map.layers[0]
    )
    lengths = {
        _length_field(zone, layer): planned.longest_mm for (_, zone, layer), planned in lash_map.cells.items()
    }
    return lengths | {
        "layer_count": len(lash_map.layers),
        "fan_shape": first.fan.shape,
        "filaments": first.fan.filaments,
        "diameter_hundredths": first.fan.diameter_hundredths,
        "curl": first.fan.curl,
        "opening_min_deg": first.fan.opening_min_deg,
        "opening_max_deg": first.fan.opening_max_deg,
    }


def _length_field(zone: str, layer: str) -> str:
    return f"length_{layer}_{zone}"


def _length_input(zone: str, layer: str) -> forms.IntegerField:
    label = f"{LAYER_WORDS[layer].capitalize()}, {ZONE_WORDS[zone]}, mm"
    return forms.IntegerField(label=label, required=False, min_value=SHORTEST_MM, max_value=LONGEST_MM)


def _stage_inputs(stage: int) -> tuple[forms.IntegerField, forms.IntegerField]:
    return (
        forms.IntegerField(
            label=f"Stage {stage + 1}, from set number",
            required=False,
            min_value=1,
            max_value=999,
            initial=None if stage else 1,
        ),
        forms.IntegerField(
            label=f"Stage {stage + 1}, minutes", required=False, min_value=SHORTEST_MIN, max_value=LONGEST_MIN
        ),
    )


def _stages(data: dict[str, Any]) -> Iterator[tuple[int, int]]:
    for stage in range(STAGES):
        start, minutes = data.get(f"from_{stage}"), data.get(f"minutes_{stage}")
        if start is not None and minutes is not None:
            yield start, minutes
