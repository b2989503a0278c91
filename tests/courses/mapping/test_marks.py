from itertools import combinations
from math import dist
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from courses.mapping.drawing import draw_map
from courses.mapping.lash_map import MapError
from courses.mapping.marks import CLEAR, Spot, place_marks
from tests.courses.mapping.maps import ZONES, lash_maps, soft_volume


def test_marks_run_from_the_nose_outwards_and_mirror():
    spots = [Spot(zone, "top", fan, 10) for zone in ZONES for fan in (3, 8)]
    left, right = (place_marks(soft_volume(), eye, spots) for eye in ("left", "right"))
    assert [x for x, _ in left] == sorted(x for x, _ in left)
    for (x, y), (other_x, other_y) in zip(left, right, strict=True):
        assert (x, y) == pytest.approx((376 - other_x, other_y))


def test_a_mark_of_the_lower_layer_lies_below_that_of_the_upper():
    (_, top), (_, bottom) = place_marks(
        soft_volume(), "left", [Spot("inner", "top", 1, 2), Spot("inner", "bottom", 1, 2)]
    )
    assert bottom > top


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.sampled_from(["left", "right"]))
def test_five_fans_drawn_from_every_zone_never_hide_each_other(seed, eye):
    """The usual sample of 40, 20 an eye; 10 fans in each cell, however close together they are drawn."""
    rng = Random(seed)
    cells = [(zone, layer, fan) for zone in ZONES for layer in ("top", "bottom") for fan in range(1, 11)]
    drawn = [spot for zone in ZONES for spot in rng.sample([cell for cell in cells if cell[0] == zone], 5)]
    places = place_marks(soft_volume(), eye, [Spot(*spot, 10) for spot in drawn])
    assert min(dist(*pair) for pair in combinations(places, 2)) >= CLEAR - 1e-9


@settings(max_examples=25)
@given(lash_maps(), st.integers(1, 40))
def test_every_mark_lies_in_the_view_box_of_its_map(lash_map, fans):
    drawing = draw_map(lash_map, "left")
    spots = [
        Spot(zone, layer, fan, fans)
        for zone in lash_map.zones
        for layer in lash_map.layers
        for fan in (1, fans)
    ]
    for x, y in place_marks(lash_map, "left", spots):
        assert 0 < x < drawing.width and 0 < y < drawing.height


@pytest.mark.parametrize("spot", [Spot("middle", "top", 1, 1), Spot("inner", "middle", 1, 1)])
def test_a_place_that_is_not_on_the_map_is_refused(spot):
    with pytest.raises(MapError, match="This map has no"):
        place_marks(soft_volume(), "left", [spot])
