from hypothesis import given, settings
from hypothesis import strategies as st

from courses.mapping.lash_map import BOTH, LAYERS, keys_of, usual_zones
from courses.mapping.reframe import reframe
from tests.courses.mapping.maps import ZONES, lash_maps

CELLS = {(BOTH, zone, layer): f"{zone} {layer}" for zone in ZONES for layer in ("top", "bottom")}


@settings(max_examples=25)
@given(lash_maps())
def test_the_same_frame_changes_nothing(lash_map):
    assert (
        reframe(lash_map.cells, lash_map.zones, lash_map.zones, lash_map.layers, lash_map.eyes)
        == lash_map.cells
    )


@settings(max_examples=40)
@given(
    lash_maps(),
    st.integers(3, 9),
    st.sets(st.sampled_from(LAYERS), min_size=1),
    st.sampled_from(["mirror", "separate"]),
)
def test_every_place_of_any_new_frame_is_filled_from_what_was_there(lash_map, count, rows, eyes):
    zones, layers = usual_zones(count), tuple(layer for layer in LAYERS if layer in rows)
    found = reframe(lash_map.cells, lash_map.zones, zones, layers, eyes)
    assert tuple(found) == tuple(keys_of(zones, layers, eyes))
    assert set(found.values()) <= set(lash_map.cells.values())


def test_a_new_zone_takes_over_the_old_one_it_lies_on():
    found = reframe(CELLS, ZONES, usual_zones(8), ("top",), "mirror")
    assert [cell.split()[0] for cell in found.values()] == [zone for zone in ZONES for _ in range(2)]


def test_a_new_layer_takes_over_the_upper_one():
    found = reframe(CELLS, ZONES, ZONES, LAYERS, "mirror")
    assert found[BOTH, "inner", "middle"] == "inner top"


def test_separate_eyes_start_alike_and_a_mirror_takes_the_left():
    apart = reframe(CELLS, ZONES, ZONES, ("top", "bottom"), "separate")
    assert apart["left", "outer", "top"] == apart["right", "outer", "top"] == "outer top"
    apart["right", "outer", "top"] = "changed"
    assert reframe(apart, ZONES, ZONES, ("top",), "mirror")[BOTH, "outer", "top"] == "outer top"


def test_nothing_comes_from_nothing():
    assert reframe({}, (), ZONES, ("top",), "mirror") == {}
