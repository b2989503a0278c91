from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import template

from courses.mapping.map_json import read_map
from courses.templatetags.lash_map import pictures
from courses.words import EYE_WORDS, LAYER_WORDS

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
    """Rows under the headings of the marks page; the gates come first, even when there are none."""
    parts = (("Gates", True), ("Other criteria", False))
    return [(heading, [row for row in rows if bool(row["is_gate"]) is gate]) for heading, gate in parts]


@register.inclusion_tag("components/_lash_map.html")
def inspected_eyes(document: Mapping[str, Any]) -> dict[str, Any]:
    """Each eye of a set document with its drawn positions, in the order in which they are inspected."""
    inspection, lash_map = document["inspection"], read_map(document["brief"]["map"])
    eyes = dict.fromkeys(position["eye"] for position in inspection["positions"])
    marks = [
        {"fans_in_cell": inspection["fans_per_cell"], **position, "kind": position["finding"]}
        for position in inspection["positions"]
    ]
    return pictures(lash_map, eyes, marks)
