from cmath import phase
from dataclasses import replace
from itertools import pairwise
from math import dist, radians

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from courses.mapping.drawing import (
    DRAWN_CURLS,
    MOST_STROKES,
    UNITS_A_MM,
    direction_deg,
    draw_both,
    draw_map,
    lengths_words,
    stroke_width,
)
from courses.mapping.lash_map import Cell, Direction, Fan, cell, mirrored, uniform_map
from courses.mapping.trade import CURLS, DIAMETERS
from tests.courses.mapping.maps import CLOSED, OPEN, lash_maps, mix, soft_volume, texture

SINGLE = Fan("closed", 1, 15, "C")


def only_fans(lash_map, zone="inner"):
    row = draw_map(lash_map, "left").rows[0]
    return next(each.fans for each in row.cells if each.zone == zone)


def length(points):
    return sum(dist(a, b) for a, b in pairwise(points))


@settings(max_examples=40)
@given(lash_maps())
def test_every_stroke_and_every_word_stays_in_the_view_box(lash_map):
    for drawing in draw_both(lash_map):
        for stroke, width in drawing.strokes():
            for x, y in stroke.points:
                assert width / 2 <= x <= drawing.width - width / 2
                assert width / 2 <= y <= drawing.height - width / 2
        for label in drawing.labels():
            left, right = label.span
            assert left >= 0 and right <= drawing.width
            assert label.size <= label.y <= drawing.height - 0.3 * label.size
        for tick, _ in drawing.directions:
            assert all(0 <= x <= drawing.width and 0 <= y <= drawing.height for x, y in tick.points)
        for row in drawing.rows:
            for each in row.cells:
                assert all(0 <= x <= drawing.width and 0 <= y <= drawing.height for x, y in each.band)


@settings(max_examples=25)
@given(lash_maps())
def test_the_right_eye_is_the_mirror_of_the_left_eye_of_the_mirrored_map(lash_map):
    right, left = draw_map(lash_map, "right"), draw_map(mirrored(lash_map), "left")
    pairs = zip(right.strokes(), left.strokes(), strict=True)
    for (here, width), (there, other_width) in pairs:
        assert (here.kind, width) == (there.kind, other_width)
        for (x, y), (other_x, other_y) in zip(here.points, there.points, strict=True):
            assert (x, y) == pytest.approx((right.width - other_x, other_y))


@settings(max_examples=25)
@given(lash_maps())
def test_both_eyes_share_one_view_box(lash_map):
    right, left = draw_both(lash_map)
    assert (right.width, right.height) == (left.width, left.height)


@settings(max_examples=40)
@given(st.integers(5, 18), st.sampled_from(CURLS))
def test_a_filament_is_as_long_as_its_millimetres_whatever_its_curl(length_mm, curl):
    ((stroke,), *_) = only_fans(texture((length_mm, 100), fan=replace(SINGLE, curl=curl)))
    assert length(stroke.points) == pytest.approx(length_mm * UNITS_A_MM)


@settings(max_examples=40)
@given(st.integers(2, 30), st.integers(1, 120))
def test_the_outer_filaments_of_an_open_fan_stand_at_its_opening(filaments, degrees):
    fan = only_fans(texture((10, 100), fan=Fan("open", filaments, 5, "C", degrees, degrees)))[0]
    assert len(fan) == min(filaments, MOST_STROKES)
    first, last = fan[0].points, fan[-1].points
    root, *tips = (complex(*first[0]), complex(*first[-1]), complex(*last[-1]))
    assert abs(phase((tips[0] - root) / (tips[1] - root))) == pytest.approx(radians(degrees))


def test_curls_bend_in_the_order_of_the_trade():
    # J the least, then B, C, CC, D, DD and U the most: common practice, no source.
    bends = [DRAWN_CURLS[curl][1] for curl in ("J", "B", "C", "CC", "D", "DD", "U")]
    assert bends == sorted(bends) and len(set(bends)) == len(bends)
    assert set(DRAWN_CURLS) == set(CURLS)


@pytest.mark.parametrize(
    ("fan", "kinds"),
    [
        (OPEN, {"line"}),
        (CLOSED, {"outline"}),
        (Fan("spike", 5, 7, "L"), {"solid"}),
        (SINGLE, {"line"}),
    ],
)
def test_fans_differ_by_shape_not_by_colour(fan, kinds):
    assert {stroke.kind for each in only_fans(texture((10, 100), fan=fan)) for stroke in each} == kinds


def test_thicker_filaments_are_thicker_lines():
    widths = [stroke_width(each) for each in DIAMETERS]
    assert widths == sorted(widths) and len(set(widths)) == len(widths)


@settings(max_examples=25)
@given(lash_maps())
def test_every_length_of_a_mix_is_drawn(lash_map):
    for row in draw_map(lash_map, "left").rows:
        for each in row.cells:
            planned = cell(lash_map, "left", each.zone, each.layer)
            assert len(each.fans) >= len(planned.lengths)
    peaks = only_fans(texture((8, 95), (12, 5), fan=SINGLE))
    assert {round(length(fan[0].points) / UNITS_A_MM) for fan in peaks} == {8, 12}


@pytest.mark.parametrize(
    ("parts", "words"),
    [(((9, 100),), "9"), (((8, 70), (12, 30)), "8/12"), (((8, 40), (10, 30), (12, 30)), "8–12")],
)
def test_a_cell_is_labelled_with_its_lengths(parts, words):
    assert lengths_words(Cell(mix(*parts), CLOSED)) == words


def test_long_words_at_the_corners_move_into_the_view_box():
    zones = ("innermost_of_the_lid", "inner_mid", "outer_mid", "outermost_of_the_lid")
    lash_map = uniform_map(zones, ("top",), {(zone, "top"): 18 for zone in zones}, OPEN)
    for drawing in draw_both(lash_map):
        spans = [label.span for label in drawing.zone_labels]
        assert all(left >= 0 and right <= drawing.width for left, right in spans)


def test_directions_are_linear_between_the_given_points_and_level_beyond():
    given_points = (Direction(20, -10), Direction(60, 30))
    assert [direction_deg(given_points, along) for along in (0, 0.2, 0.3, 0.6, 1)] == [-10, -10, 0, 30, 30]


def test_without_directions_lashes_lean_as_they_grow():
    assert direction_deg((), 0) < 0 < direction_deg((), 1)


def test_given_directions_are_drawn_as_ticks_with_their_degrees():
    drawing = draw_map(replace(soft_volume(), directions=(Direction(0, -20), Direction(100, 30))), "right")
    assert [label.text for _, label in drawing.directions] == ["−20°", "30°"]
