import copy
import json

import pytest
from hypothesis import given, settings

from courses.mapping.lash_map import MapError
from courses.mapping.map_json import map_problems, read_map, write_map
from courses.mapping.trade import TradeList
from tests.courses.mapping.maps import lash_maps, soft_volume


@settings(max_examples=40)
@given(lash_maps())
def test_a_map_written_as_json_text_is_read_back_the_same(lash_map):
    assert read_map(json.loads(json.dumps(write_map(lash_map)))) == lash_map


def test_a_map_needs_only_zones_layers_and_cells():
    data = {name: write_map(soft_volume())[name] for name in ("zones", "layers", "cells")}
    assert read_map(data) == soft_volume()


def changed(path, value):
    """A written map with the value at a path of keys changed, or the key removed for ``...``."""
    data = copy.deepcopy(write_map(soft_volume()))
    *way, last = path
    at = data
    for key in way:
        at = at[key]
    if value is ...:
        del at[last]
    else:
        at[last] = value
    return data


CELL = ("cells", "both", "inner_mid", "bottom")
AT = "/cells/both/inner_mid/bottom"


@pytest.mark.parametrize(
    ("path", "value", "code", "pointer"),
    [
        (("zones",), [], "zone_count", "/zones"),
        (("zones",), ["inner", "inner", "outer"], "duplicate_zone", "/zones/1"),
        (("zones",), "inner", "not_a_list", "/zones"),
        (("zones",), ["inner", 2, "outer"], "not_text", "/zones/1"),
        (("layers",), ["attic"], "bad_layers", "/layers"),
        (("eyes",), "both", "bad_eyes", "/eyes"),
        (("colour",), "red", "unknown_field", "/colour"),
        (("a/b~c",), 1, "unknown_field", "/a~1b~0c"),  # escaped as RFC 6901, section 3
        (("textured",), "yes", "not_yes_or_no", "/textured"),
        (("face_note",), 3, "not_text", "/face_note"),
        (("natural_length_mm",), 8.5, "not_a_whole_number", "/natural_length_mm"),
        (("directions",), [{"along_percent": 5}], "not_a_whole_number", "/directions/0/degrees"),
        (("cells",), [], "not_an_object", "/cells"),
        (("cells", "left"), {}, "unknown_field", "/cells/left"),
        (("cells", "both", "brow"), {"top": {}}, "unknown_cell", "/cells/both/brow/top"),
        (CELL, ..., "missing_cell", AT),
        (CELL, 9, "not_an_object", AT),
        (
            (*CELL, "lengths"),
            [{"length_mm": 3, "share_percent": 100}],
            "length_out_of_range",
            f"{AT}/lengths/0/length_mm",
        ),
        (
            (*CELL, "lengths"),
            [{"length_mm": 40, "share_percent": 100}],
            "length_out_of_range",
            f"{AT}/lengths/0/length_mm",
        ),
        ((*CELL, "lengths"), [{"length_mm": 9, "share_percent": 90}], "shares_do_not_sum", f"{AT}/lengths"),
        (
            (*CELL, "lengths"),
            [{"length_mm": True, "share_percent": 100}],
            "not_a_whole_number",
            f"{AT}/lengths/0/length_mm",
        ),
        ((*CELL, "lengths"), [{"mm": 9}], "unknown_field", f"{AT}/lengths/0/mm"),
        ((*CELL, "diameter_hundredths"), 50, "unknown_diameter", f"{AT}/diameter_hundredths"),
        ((*CELL, "curl"), "Z", "unknown_curl", f"{AT}/curl"),
        ((*CELL, "fan_shape"), "fluffy", "unknown_fan_shape", f"{AT}/fan_shape"),
        ((*CELL, "opening_deg"), [30], "opening_missing", f"{AT}/opening_deg"),
        ((*CELL, "opening_deg"), ["30", 50], "not_a_whole_number", f"{AT}/opening_deg/0"),
    ],
)
def test_bad_input_is_told_with_its_place(path, value, code, pointer):
    with pytest.raises(MapError) as caught:
        read_map(changed(path, value))
    assert (caught.value.code, caught.value.pointer) == (code, pointer)


def test_the_sentence_names_the_place_and_the_choice():
    with pytest.raises(MapError) as caught:
        read_map(changed((*CELL, "diameter_hundredths"), 50))
    assert caught.value.message.startswith(
        "Inner-mid, bottom layer: 0.50 mm is not a diameter of the trade list."
    )
    assert "0.03, 0.04, 0.05" in caught.value.message


@pytest.mark.parametrize("data", [None, [], "map", 3, {1: 2}])
def test_what_is_no_map_at_all_is_refused(data):
    with pytest.raises(MapError) as caught:
        read_map(data)
    assert caught.value.code == "not_an_object"


def test_everything_wrong_with_the_cells_is_told_at_once():
    data = changed((*CELL, "curl"), "Z")
    data["cells"]["both"]["outer"]["top"]["filaments"] = 0
    assert [problem.pointer for problem in map_problems(data)] == [
        "/cells/both/outer/top/filaments",
        f"{AT}/curl",
    ]


def test_without_bad_cells_the_first_other_problem_is_told():
    assert map_problems(write_map(soft_volume())) == ()
    assert [problem.code for problem in map_problems(changed(("zones",), []))] == ["zone_count"]
    assert [problem.code for problem in map_problems(changed(("eye_shape",), "x" * 61))] == ["text_too_long"]


def test_a_programme_may_list_what_it_sells():
    data = changed((*CELL, "diameter_hundredths"), 9)
    assert read_map(data, TradeList(diameters_hundredths=(5, 9))).cells["both", "inner_mid", "bottom"]
    with pytest.raises(MapError, match="curl C is not in the trade list"):
        read_map(write_map(soft_volume()), TradeList(curls=("L",)))
