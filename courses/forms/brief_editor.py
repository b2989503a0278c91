"""A whole brief as one plain form: its words, its lash map cell by cell, and its target times."""

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Any

from django import forms

from courses.forms.map_inputs import (
    Frame,
    SideInputs,
    cells_json,
    refit,
    side_inputs,
    typed_cells,
    typed_map,
    whole,
)
from courses.mapping.lash_map import (
    FEWEST_ZONES,
    LONGEST_MM,
    MOST_NOTES,
    MOST_ZONES,
    CellKey,
    Fan,
    LashMap,
    layer_words,
    uniform_map,
    usual_zones,
)
from courses.mapping.trade import CURLS, DIAMETERS, millimetres
from courses.models import Difficulty, FanShape
from courses.services.brief_content import (
    LONGEST_MIN,
    SHORTEST_MIN,
    BriefContent,
    BriefMapWrong,
    BriefProblem,
    brief_problems,
    lash_map_of,
)
from courses.words import LAYERS

STAGES = 5
DIRECTIONS = 5
EYE_CHOICES = [("mirror", "Alike, mirrored"), ("separate", "Each on its own")]
PLAIN = ("name", "style", "difficulty", "coverage_percent", "lashes_per_eye", "notes")
# Where a problem is shown when its field is spread over many inputs.
SHOWN_AT = {"targets": None, "silenced": None}
RELAID = (
    "The map was laid out anew for this choice: every new place took over what stood nearest to it. "
    "Look at the cells, then save."
)


def first_map() -> LashMap:
    """What a new brief starts from: common practice, no source."""
    lengths = dict(zip(usual_zones(4), (8, 9, 9, 8), strict=True))
    cells = {(zone, layer): mm - (layer == "bottom") for zone, mm in lengths.items() for layer in LAYERS}
    return uniform_map(usual_zones(4), ("top", "bottom"), cells, Fan("open", 5, 5, "C", 30, 50))


class BriefForm(forms.Form):
    """Bound or not, `sides` gives the cells as typed. Once valid, `content` gives the brief."""

    name = forms.CharField(max_length=80)
    style = forms.CharField(max_length=60, help_text="In a word or two: classic, hybrid, soft volume.")
    difficulty = forms.ChoiceField(
        label="Written for", choices=[("", "Not said"), *Difficulty.choices], required=False
    )
    lashes_per_eye = forms.IntegerField(label="Usable lashes an eye", min_value=20, max_value=200, initial=80)
    coverage_percent = forms.IntegerField(
        label="Of these to be covered, %", min_value=10, max_value=100, initial=100
    )
    eyes = forms.ChoiceField(choices=EYE_CHOICES, initial="mirror", widget=forms.RadioSelect)
    zone_count = forms.TypedChoiceField(
        label="Zones",
        coerce=int,
        choices=[(count, str(count)) for count in range(FEWEST_ZONES, MOST_ZONES + 1)],
    )
    layers = forms.MultipleChoiceField(
        choices=[(layer, layer_words(layer)) for layer in LAYERS], widget=forms.CheckboxSelectMultiple
    )
    textured = forms.BooleanField(label="Textured style: long peaks among shorter fillers", required=False)
    natural_length_mm = forms.IntegerField(
        label="Natural lash, mm", required=False, min_value=3, max_value=LONGEST_MM
    )
    eye_shape = forms.CharField(label="Eye shape", required=False, max_length=60)
    face_note = forms.CharField(label="Face note", required=False, max_length=500)
    placement = forms.CharField(
        label="Order of placing",
        required=False,
        help_text=f"One note a line, up to {MOST_NOTES}: peaks first, then fillers.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    notes = forms.CharField(max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 4}))
    base = forms.IntegerField(required=False, widget=forms.HiddenInput)
    zones = forms.CharField(required=False, widget=forms.HiddenInput)

    shapes = FanShape.choices
    diameters = [(str(each), f"{millimetres(each)} mm") for each in DIAMETERS]
    curls = CURLS

    def __init__(self, *args: Any, start: LashMap | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.start = start or first_map()
        self.directions = max(DIRECTIONS, len(self.start.directions))
        for nth in range(self.directions):
            self.fields[f"along_{nth}"], self.fields[f"degrees_{nth}"] = _direction_inputs(nth)
        for stage in range(STAGES):
            self.fields[f"from_{stage}"], self.fields[f"minutes_{stage}"] = _stage_inputs(stage)
        self.initial = {**_initial_of_map(self.start), **self.initial}
        self._cell_problems: dict[CellKey, list[str]] = {}

    @classmethod
    def of(cls, data: Mapping[str, Any] | None, content: BriefContent, base: int | None) -> "BriefForm":
        """Starting from a brief; ``base`` is the version that the next one is to follow."""
        stages = {
            f"{name}_{stage}": value
            for stage, target in enumerate(content.targets)
            for name, value in zip(("from", "minutes"), target, strict=True)
        }
        initial = {name: getattr(content, name) for name in PLAIN} | stages | {"base": base}
        form = cls(data, start=content.lash_map, initial=initial)
        form.silenced_at_start = dict(content.silenced)
        return form

    silenced_at_start: Mapping[str, str] = {}

    @cached_property
    def frame(self) -> Frame:
        """The frame asked for; where that makes no sense, the one the cells stand on."""
        if not self.is_bound:
            return Frame(self.start.zones, self.start.layers, self.start.eyes)
        count, old = whole(str(self["zone_count"].value() or "")), self._old_zones
        asked = count if isinstance(count, int) and FEWEST_ZONES <= count <= MOST_ZONES else len(old)
        zones = old if len(old) == asked else usual_zones(asked)
        layers = tuple(layer for layer in LAYERS if layer in (self["layers"].value() or ()))
        eyes = "separate" if self["eyes"].value() == "separate" else "mirror"
        return Frame(zones, layers or ("top",), eyes)

    @cached_property
    def cells(self) -> dict[CellKey, dict[str, str]]:
        """What is typed in every cell of the frame."""
        if not self.is_bound:
            return typed_map(self.start)
        return refit(typed_cells(self.data), self._old_zones, self.frame)

    @cached_property
    def is_relaid(self) -> bool:
        """Were the cells sent on another frame than the one asked for?"""
        return self.is_bound and set(typed_cells(self.data)) != set(self.frame.keys)

    @property
    def lash_map(self) -> LashMap | None:
        """The map as typed; None while nobody could work from it."""
        if not self.is_bound:
            return self.start
        return self.cleaned_data.get("lash_map") if self.is_valid() or self.errors else None

    @property
    def zone_codes(self) -> str:
        return " ".join(self.frame.zones)

    @property
    def silenced(self) -> dict[str, str]:
        """Note by key of the finding, blank ones left out."""
        if not self.is_bound:
            return dict(self.silenced_at_start)
        names = (name for name in self.data if name.startswith("silenced/"))
        notes = {name.removeprefix("silenced/"): str(self.data[name]).strip() for name in names}
        return {key: note for key, note in notes.items() if note}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for stage in range(STAGES):
            self._check_pair(f"from_{stage}", f"minutes_{stage}", "the set number and the minutes")
        for nth in range(self.directions):
            self._check_pair(f"along_{nth}", f"degrees_{nth}", "the place and the degrees")
        self._read_map()
        if not self.errors:
            for problem in brief_problems(self.content()):
                self.add_error(SHOWN_AT.get(problem.field, problem.field), problem.message)
        return data

    def content(self) -> BriefContent:
        data = self.cleaned_data
        return BriefContent(
            **{field: data[field] for field in PLAIN},
            lash_map=data["lash_map"],
            silenced=self.silenced,
            targets=tuple(self._pairs("from", "minutes", STAGES)),
        )

    def check_layout(self) -> bool:
        """Before saving: a map laid out anew is looked at first. Adds the sentence that says so."""
        if self.is_relaid:
            self.add_error("zone_count", RELAID)
        return not self.is_relaid

    def lashes(self) -> tuple[int, int]:
        """Usable lashes an eye and per cent to be covered; what was mistyped counts as the usual."""
        typed = (whole(str(self[name].value())) for name in ("lashes_per_eye", "coverage_percent"))
        usual, limits = (80, 100), ((20, 200), (10, 100))
        checked = zip(typed, usual, limits, strict=True)
        lashes, percent = (
            each if isinstance(each, int) and low <= each <= high else standing
            for each, standing, (low, high) in checked
        )
        return lashes, percent

    def start_from(self, number: int) -> None:
        """Once warned that somebody made version ``number``, the next save is meant to follow it."""
        self.data = self.data.copy()  # type: ignore[attr-defined]  # a QueryDict
        self.data["base"] = str(number)  # type: ignore[index]

    def sides(self) -> Iterator[SideInputs]:
        """For the template: every cell as typed, by eye and layer."""
        return side_inputs(self.frame, self.cells, self._cell_problems)

    def stage_rows(self) -> Iterator[tuple[forms.BoundField, forms.BoundField]]:
        return ((self[f"from_{stage}"], self[f"minutes_{stage}"]) for stage in range(STAGES))

    def direction_rows(self) -> Iterator[tuple[forms.BoundField, forms.BoundField]]:
        return ((self[f"along_{nth}"], self[f"degrees_{nth}"]) for nth in range(self.directions))

    def cell_links(self) -> Iterator[tuple[str, str]]:
        """Every sentence about a cell, with the id of that cell."""
        for key, sentences in self._cell_problems.items():
            yield from ((sentence, "-".join(("cell", *key))) for sentence in sentences)

    @property
    def _old_zones(self) -> tuple[str, ...]:
        return tuple(str(self.data.get("zones", "")).split()) or self.start.zones

    def _read_map(self) -> None:
        try:
            self.cleaned_data["lash_map"] = lash_map_of(self._map_json())
        except BriefMapWrong as error:
            for problem in error.problems:
                self._tell(problem)
        if cells := len(self._cell_problems):
            them = "1 cell of the lash map needs" if cells == 1 else f"{cells} cells of the lash map need"
            self.add_error(None, f"{them} correcting. What is wrong stands beside it.")

    def _map_json(self) -> dict[str, Any]:
        data = self.cleaned_data
        return {
            "zones": list(self.frame.zones),
            "layers": list(self.frame.layers),
            "eyes": self.frame.eyes,
            "cells": cells_json(self.cells),
            "directions": [
                {"along_percent": along, "degrees": degrees}
                for along, degrees in self._pairs("along", "degrees", self.directions)
            ],
            "placement": [line.strip() for line in data.get("placement", "").splitlines() if line.strip()],
            "textured": data.get("textured", False),
            "eye_shape": data.get("eye_shape", ""),
            "face_note": data.get("face_note", ""),
            "natural_length_mm": data.get("natural_length_mm"),
        }

    def _tell(self, problem: BriefProblem) -> None:
        """Beside its cell, its field, or at the top."""
        _, where, *rest = (*problem.pointer.split("/"), "")
        if where == "cells" and len(rest) >= 3:
            side, zone, layer = rest[:3]
            self._cell_problems.setdefault((side, zone, layer), []).append(problem.message)
        elif where == "directions":
            self.add_error(f"along_{rest[0]}" if rest[0].isdecimal() else None, problem.message)
        else:
            self.add_error(where if where in self.fields else None, problem.message)

    def _check_pair(self, one: str, other: str, words: str) -> None:
        filled = [self.cleaned_data.get(name) is not None or name in self.errors for name in (one, other)]
        if any(filled) and not all(filled):
            self.add_error((one, other)[filled.index(False)], f"Fill in both {words}, or empty both.")

    def _pairs(self, one: str, other: str, count: int) -> Iterator[tuple[int, int]]:
        for nth in range(count):
            pair = self.cleaned_data.get(f"{one}_{nth}"), self.cleaned_data.get(f"{other}_{nth}")
            if pair[0] is not None and pair[1] is not None:
                yield pair[0], pair[1]


def _initial_of_map(lash_map: LashMap) -> dict[str, Any]:
    directions = {
        f"{name}_{nth}": value
        for nth, each in enumerate(lash_map.directions)
        for name, value in (("along", each.along_percent), ("degrees", each.degrees))
    }
    return directions | {
        "eyes": lash_map.eyes,
        "zone_count": len(lash_map.zones),
        "layers": list(lash_map.layers),
        "textured": lash_map.textured,
        "natural_length_mm": lash_map.natural_length_mm,
        "eye_shape": lash_map.eye_shape,
        "face_note": lash_map.face_note,
        "placement": "\n".join(lash_map.placement),
    }


def _direction_inputs(nth: int) -> tuple[forms.IntegerField, forms.IntegerField]:
    return (
        forms.IntegerField(
            label=f"Direction {nth + 1}, % of the way from the inner corner",
            required=False,
            min_value=0,
            max_value=100,
        ),
        forms.IntegerField(
            label=f"Direction {nth + 1}, degrees outwards", required=False, min_value=-60, max_value=60
        ),
    )


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
