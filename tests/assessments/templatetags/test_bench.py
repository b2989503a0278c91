"""What the bench pages are told by their tags."""

from types import SimpleNamespace
from typing import Any

import pytest
from django.template import Context, Template

from assessments.templatetags.bench import gates_first, inspected_eyes, is_chosen, level_choices
from courses.mapping.map_json import write_map
from tests.factories.courses import plain_map


def row(proposed: int | None, value: str | int | None) -> dict[str, Any]:
    field = SimpleNamespace(value=lambda: value)
    return {"proposal": {"level": proposed}, "level_field": field, "descriptors": list("abcde")}


@pytest.mark.parametrize(
    ("proposed", "value", "checked", "chosen"),
    [
        (2, None, [2], False),  # nobody touched it: as proposed
        (2, "2", [2], False),
        (2, "4", [4], True),
        (2, "0", [0], True),
        (None, "", [], False),  # nothing to propose from
        (None, 3, [3], True),
    ],
)
def test_the_level_checked_is_the_chosen_one_else_the_proposed(
    proposed: int | None, value: str | int | None, checked: list[int], chosen: bool
):
    shown = row(proposed, value)
    assert [choice.level for choice in level_choices(shown) if choice.is_checked] == checked
    assert is_chosen(shown) is chosen


def test_the_proposed_level_stays_marked_beside_another_choice():
    choices = level_choices(row(2, "4"))
    assert [choice.level for choice in choices if choice.is_proposed] == [2]
    assert [choice.text for choice in choices] == ["a", "b", "c", "d", "e"]


def test_gates_stand_first_and_keep_their_heading_because_the_hygiene_lines_follow_it():
    gate, other = {"is_gate": True, "code": "isolation"}, {"is_gate": False, "code": "layers"}
    assert gates_first([other, gate]) == [("Gates", [gate]), ("Other criteria", [other])]
    assert gates_first([other]) == [("Gates", []), ("Other criteria", [other])]


def document(zones: list[str]) -> dict[str, Any]:
    positions = [
        {"index": index, "eye": eye, "zone": zones[-1], "layer": "top", "fan": fan, "finding": "unseen"}
        for index, (eye, fan) in enumerate([("left", 1), ("left", 10), ("right", 1)])
    ]
    layers = ("top", "bottom")
    lengths = {(zone, layer): 10 for zone in zones for layer in layers}
    lash_map = write_map(plain_map(zones=tuple(zones), layers=layers, lengths=lengths))
    inspection = {"fans_per_cell": 10, "positions": positions}
    return {"brief": {"map": lash_map}, "inspection": inspection}


def test_each_eye_draws_its_own_positions_along_the_lid():
    left, right = inspected_eyes(document(["inner", "inner_mid", "outer_mid", "outer"]))["eyes"]
    assert (left.eye, right.eye) == ("L", "R")
    assert [mark.index for mark in left.marks] == [0, 1] and [mark.index for mark in right.marks] == [2]
    # Facing the head, the outer corner of the left eye is on the right: the tenth fan lies outside the first.
    assert float(left.marks[0].x) < float(left.marks[1].x)


def test_numbered_zones_of_a_finer_map_are_told_without_underscores():
    (left, _) = inspected_eyes(document(["inner", "zone_2", "outer"]))["eyes"]
    assert [zone.text for zone in left.zones] == ["inner", "zone 2", "outer"]


def test_codes_are_written_in_the_words_of_the_lash_map():
    page = Template("{% load bench %}{{ 'left'|eye_words }}, {{ 'top'|layer_words }}")
    assert page.render(Context()) == "Left eye, top layer"
