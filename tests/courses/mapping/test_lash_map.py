from dataclasses import replace

import pytest
from hypothesis import given, settings

from courses.mapping.lash_map import (
    BOTH,
    Cell,
    Direction,
    Fan,
    LashMap,
    LengthShare,
    MapError,
    cell,
    cell_keys,
    mirrored,
    place_words,
    separated,
    uniform_map,
    usual_zones,
)
from tests.courses.mapping.maps import CLOSED, OPEN, ZONES, lash_maps, mix, soft_volume


@settings(max_examples=30)
@given(lash_maps())
def test_mirroring_twice_gives_the_map_back(lash_map):
    assert mirrored(mirrored(lash_map)) == lash_map


@settings(max_examples=30)
@given(lash_maps())
def test_what_stands_left_stands_right_in_the_mirror(lash_map):
    other = mirrored(lash_map)
    for zone in lash_map.zones:
        for layer in lash_map.layers:
            assert cell(lash_map, "left", zone, layer) == cell(other, "right", zone, layer)


@settings(max_examples=30)
@given(lash_maps())
def test_separating_the_eyes_changes_no_fan(lash_map):
    apart = separated(lash_map)
    assert apart.eyes == "separate"
    for eye, zone, layer in cell_keys(apart):
        assert cell(apart, eye, zone, layer) == cell(lash_map, eye, zone, layer)


def test_the_usual_four_zones_run_from_the_inner_to_the_outer_corner():
    assert usual_zones(4) == ZONES


@pytest.mark.parametrize("count", range(3, 10))
def test_every_lid_of_three_to_nine_zones_has_corners_and_names(count):
    zones = usual_zones(count)
    assert len(set(zones)) == count and zones[0] == "inner" and zones[-1] == "outer"


@pytest.mark.parametrize("count", [0, 2, 10])
def test_no_lid_has_fewer_or_more_zones(count):
    with pytest.raises(MapError, match="Give 3 to 9"):
        usual_zones(count)


def test_a_simple_brief_becomes_a_map_of_one_length_a_cell():
    lash_map = soft_volume(outer_top=8)
    assert cell(lash_map, "right", "outer", "top") == Cell((LengthShare(8, 100),), OPEN)
    assert lash_map.eyes == "mirror" and len(lash_map.cells) == 8


def test_a_simple_brief_without_a_length_is_refused():
    with pytest.raises(MapError, match="Give the length for outer, top layer"):
        uniform_map(ZONES, ("top",), {(zone, "top"): 9 for zone in ZONES[:-1]}, OPEN)


def test_lengths_are_kept_from_the_shortest_up():
    planned = Cell(mix((12, 30), (8, 70)), CLOSED)
    assert [part.length_mm for part in planned.lengths] == [8, 12]
    assert (planned.shortest_mm, planned.longest_mm) == (8, 12)


def test_one_layer_is_enough_because_many_heads_have_one_row():
    planned = {(zone, "bottom"): 8 for zone in ZONES}
    assert uniform_map(ZONES, ("bottom",), planned, OPEN).layers == ("bottom",)


def test_a_place_reads_as_people_say_it():
    assert place_words(BOTH, "inner_mid", "top") == "inner-mid, top layer"
    assert place_words("left", "zone_3", "bottom") == "left eye, zone 3, bottom layer"


@pytest.mark.parametrize(
    "place", [("third", "inner", "top"), ("left", "brow", "top"), ("left", "inner", "middle")]
)
def test_an_unknown_place_is_said(place):
    with pytest.raises(MapError) as caught:
        cell(soft_volume(), *place)
    assert caught.value.code == "unknown_place"


@pytest.mark.parametrize(
    ("lengths", "code", "pointer"),
    [
        ((), "length_count", "/lengths"),
        (((3, 100),), "length_out_of_range", "/lengths/0/length_mm"),
        (((9, 50), (40, 50)), "length_out_of_range", "/lengths/1/length_mm"),
        (((9, 50), (9, 50)), "length_twice", "/lengths/1/length_mm"),
        (((9, 100), (10, 0)), "share_out_of_range", "/lengths/1/share_percent"),
        (((9, 60), (10, 30)), "shares_do_not_sum", "/lengths"),
        (((9, 60), (10, 50)), "shares_do_not_sum", "/lengths"),
    ],
)
def test_an_impossible_mix_is_told_with_its_place(lengths, code, pointer):
    with pytest.raises(MapError) as caught:
        Cell(mix(*lengths), OPEN)
    assert (caught.value.code, caught.value.pointer) == (code, pointer)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"shape": "fluffy"}, "unknown_fan_shape"),
        ({"filaments": 0}, "filaments_out_of_range"),
        ({"filaments": 31}, "filaments_out_of_range"),
        ({"diameter_hundredths": 0}, "diameter_out_of_range"),
        ({"curl": " "}, "no_curl"),
        ({"opening_min_deg": None}, "opening_missing"),
        ({"opening_min_deg": 60}, "opening_out_of_range"),
        ({"opening_max_deg": 121}, "opening_out_of_range"),
        ({"shape": "spike"}, "opening_not_wanted"),
    ],
)
def test_an_impossible_fan_is_refused(changes, code):
    with pytest.raises(MapError) as caught:
        replace(OPEN, **changes)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"zones": ()}, "zone_count"),
        ({"zones": ("inner", "outer")}, "zone_count"),
        ({"zones": ("inner", "inner", "outer_mid", "outer")}, "duplicate_zone"),
        ({"zones": ("Inner", "inner_mid", "outer_mid", "outer")}, "bad_zone"),
        ({"layers": ()}, "bad_layers"),
        ({"layers": ("bottom", "top")}, "bad_layers"),
        ({"layers": ("top", "fourth")}, "bad_layers"),
        ({"eyes": "three"}, "bad_eyes"),
        ({"eyes": "separate"}, "missing_cell"),
        ({"layers": ("top",)}, "unknown_cell"),
        ({"cells": {}}, "missing_cell"),
        ({"directions": (Direction(101, 0),)}, "direction_off_the_lid"),
        ({"directions": (Direction(50, 61),)}, "direction_out_of_range"),
        ({"directions": (Direction(50, 5), Direction(50, 6))}, "directions_out_of_order"),
        ({"placement": ("",)}, "bad_note"),
        ({"placement": ("peaks first",) * 13}, "too_many_notes"),
        ({"eye_shape": "x" * 61}, "text_too_long"),
        ({"natural_length_mm": 40}, "natural_length_out_of_range"),
    ],
)
def test_an_impossible_map_is_refused(changes, code):
    with pytest.raises(MapError) as caught:
        replace(soft_volume(), **changes)
    assert caught.value.code == code


def test_every_refusal_ends_with_what_to_do():
    with pytest.raises(MapError) as caught:
        LashMap((), ("top",), "mirror", {})
    assert caught.value.message == "The map has no zones. Give 3 to 9, from the inner to the outer corner."
    with pytest.raises(MapError, match=r"The shares add up to 90 %, not 100 %\. Change them"):
        Cell(mix((9, 60), (10, 30)), OPEN)


def test_a_fan_of_one_filament_is_a_fan():
    assert Fan("closed", 1, 15, "C").filaments == 1
