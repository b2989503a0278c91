import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import BPoly

from courses.mapping.geometry import WIDTH, Lid, brow_line, lash_turn, lid_line, lid_skin

shares = st.floats(0, 1)


@settings(max_examples=40)
@given(shares, st.floats(0, 80))
def test_the_right_eye_is_the_mirror_of_the_left(along, depth):
    left, right = Lid("L", 4).point(along, depth), Lid("R", 4).point(along, depth)
    assert right.x == pytest.approx(WIDTH - left.x) and right.y == left.y


def test_zones_cut_the_lid_into_equal_parts():
    lid = Lid("L", 4)
    assert [lid.along(zone, 0) for zone in (1, 2, 3, 4)] == [0, 0.25, 0.5, 0.75]
    assert lid.along(4, 1) == 1


def test_lashes_lean_to_the_nose_inside_and_outwards_outside():
    assert lash_turn(0) < 0 < lash_turn(1)


@pytest.mark.parametrize("draw", [lid_line, lid_skin, brow_line])
@pytest.mark.parametrize("eye", ["L", "R"])
def test_shapes_of_the_face_are_paths(draw, eye):
    assert draw(Lid(eye, 4)).startswith("M")


def test_points_of_the_lid_lie_on_the_curve_drawn():
    """Judged by scipy's Bernstein polynomials over the control points of the path itself."""
    lid = Lid("L", 4)
    corners = np.array(re.findall(r"[\d.]+", lid_line(lid)), dtype=float).reshape(3, 1, 2)
    curve = BPoly(corners, [0, 1])
    for along in np.linspace(0, 1, 11):
        point = lid.point(float(along))
        assert np.allclose(curve(along), [point.x, point.y])


def test_the_inner_corner_is_by_the_nose():
    """Facing a head, its right eye is on the left, its nose right of that: anatomy, no source."""
    assert Lid("R", 1).point(0).x > Lid("R", 1).point(1).x
    assert Lid("L", 1).point(0).x < Lid("L", 1).point(1).x


def test_lashes_fan_open_from_the_nose_outwards():
    turns = [lash_turn(step / 10) for step in range(11)]
    assert turns == sorted(turns)
