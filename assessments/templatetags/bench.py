from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import template

from academy.templatetags.eye import EyeDrawing, draw_eye
from courses.words import EYE_WORDS, LAYER_WORDS, ZONE_WORDS

register = template.Library()


@register.filter
def eye_words(eye: str) -> str:
    return EYE_WORDS[eye].capitalize()


@register.filter
def layer_words(layer: str) -> str:
    return LAYER_WORDS[layer]


@register.filter
def words_of(text: str) -> list[str]:
    return text.split()


@dataclass(frozen=True, slots=True)
class LevelChoice:
    level: int
    text: str
    is_proposed: bool
    is_checked: bool


@register.filter
def level_choices(row: Mapping[str, Any]) -> list[LevelChoice]:
    """The five levels of a criterion; the one chosen, else the one proposed, is checked."""
    proposed = row["proposal"]["level"]
    shown = proposed if row["level_field"].value() in (None, "") else int(row["level_field"].value())
    return [
        LevelChoice(level, text, is_proposed=level == proposed, is_checked=level == shown)
        for level, text in enumerate(row["descriptors"])
    ]


@register.filter
def is_chosen(row: Mapping[str, Any]) -> bool:
    """Did a person choose a level that is not simply the proposed one?"""
    value = row["level_field"].value()
    return value not in (None, "") and int(value) != row["proposal"]["level"]


@register.filter
def gates_first(rows: Sequence[Mapping[str, Any]]) -> list[tuple[str, list[Mapping[str, Any]]]]:
    """Rows under the headings of the marks page; a heading without rows is left out."""
    parts = (("Gates", True), ("Other criteria", False))
    named = [(heading, [row for row in rows if bool(row["is_gate"]) is gate]) for heading, gate in parts]
    return [(heading, found) for heading, found in named if found]


@register.inclusion_tag("components/_eye.html")
def inspected_eyes(document: Mapping[str, Any]) -> dict[str, list[EyeDrawing]]:
    """Both eyes of a set document with its drawn positions, in the order in which they are inspected."""
    brief, positions = document["brief"], document["inspection"]["positions"]
    zones = [_zone_words(zone) for zone in brief["zones"]]
    layers = [LAYER_WORDS[layer] for layer in brief["layers"]]
    fans = document["inspection"].get("fans_per_cell") or max(position["fan"] for position in positions)
    marks = [_mark(position, fans) for position in positions]
    eyes = dict.fromkeys(position["eye"] for position in positions)
    return {"eyes": [draw_eye(eye, zones, layers, marks) for eye in eyes]}


def _zone_words(zone: str) -> str:
    """Finer maps number the zones between the corners: ``zone_2``."""
    return ZONE_WORDS.get(zone) or zone.replace("_", " ")


def _mark(position: Mapping[str, Any], fans_in_cell: int) -> dict[str, Any]:
    return {
        "eye": position["eye"],
        "index": position["index"],
        "zone": _zone_words(position["zone"]),
        "layer": LAYER_WORDS[position["layer"]],
        "fraction": min(1.0, (position["fan"] - 0.5) / fans_in_cell),
        "kind": position["finding"],
    }
