import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from courses.mapping.geometry import (
    HEIGHT,
    WIDTH,
    Lid,
    brow_line,
    fan_strokes,
    lash_turn,
    leans,
    lid_line,
    lid_skin,
    nose_line,
    zone_band,
)

shares = st.floats(0, 1)


@settings(max_examples=40)
@given(shares, st.floats(0, 80))
def test_the_right_eye_is_the_mirror_of_the_left(along, depth):
    left, right = Lid("L", 4, 2).point(along, depth), Lid("R", 4, 2).point(along, depth)
    assert right.x == pytest.approx(WIDTH - left.x) and right.y == left.y


@settings(max_examples=40)
@given(shares)
def test_every_place_of_the_rows_lies_in_the_view_box(along):
    lid = Lid("L", 9, 3)
    for depth in (0, lid.rim):
        point = lid.point(along, depth)
        assert 0 < point.x < WIDTH and 0 < point.y < HEIGHT


def test_zones_cut_the_lid_into_equal_parts():
    lid = Lid("L", 4, 2)
    assert [lid.along(zone, 0) for zone in (1, 2, 3, 4)] == [0, 0.25, 0.5, 0.75]
    assert lid.along(4, 1) == 1


def test_rows_lie_one_below_the_other():
    lid = Lid("L", 4, 3)
    assert lid.depth(1) < lid.depth(2) < lid.depth(3) < lid.rim


def test_lashes_lean_to_the_nose_inside_and_outwards_outside():
    assert lash_turn(0) < 0 < lash_turn(1)


def test_marks_that_would_touch_lean_to_and_fro():
    assert leans([0.1, 0.5, 0.9]) == [0.5, 0.5, 0.5]
    near, far = leans([0.50, 0.52])
    assert near != far and near + far == pytest.approx(1)


@pytest.mark.parametrize("draw", [lid_line, lid_skin, brow_line, nose_line])
@pytest.mark.parametrize("eye", ["L", "R"])
def test_shapes_of_the_face_are_paths(draw, eye):
    assert draw(Lid(eye, 4, 2)).startswith("M")


def test_bands_and_rows_are_paths():
    lid = Lid("L", 4, 2)
    assert zone_band(lid, 1).endswith(" Z")
    assert fan_strokes(lid, 1).count("M") == 3 * 4 * 4  # three strokes a fan, four fans a zone
