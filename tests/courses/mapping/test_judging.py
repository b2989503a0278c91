from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from courses.mapping.judging import PairedLengths, is_off_map, pair_positions, symmetry


@dataclass(frozen=True)
class Seen:
    eye: str
    zone: str
    layer: str
    fan: int


@pytest.mark.parametrize(
    ("found", "is_off"),
    [(10, False), (11, True), (9, True), (Decimal("10.9"), False), (Decimal("9.0"), True), (13, True)],
)
def test_a_fan_is_off_the_map_by_one_millimetre_or_more(found, is_off):
    # common practice, no source
    assert is_off_map(found, 10) is is_off


def test_the_tolerance_is_the_programmes():
    assert is_off_map(Decimal("10.5"), 10, Decimal("0.5"))
    assert not is_off_map(11, 10, 2)


def test_a_tenth_is_not_lost_to_floating_point():
    assert 8.2 - 7.2 < 1  # IEEE 754 double precision
    assert is_off_map(Decimal("8.2"), Decimal("7.2"))


def test_the_nearest_fans_of_one_zone_and_layer_are_compared():
    positions = [
        *(Seen("left", "inner", "top", fan) for fan in (2, 7)),
        *(Seen("right", "inner", "top", fan) for fan in (3, 9)),
        Seen("left", "outer", "top", 4),
        Seen("right", "outer", "bottom", 4),
    ]
    pairs = pair_positions(positions)
    assert [(left.fan, right.fan) for left, right in pairs] == [(2, 3), (7, 9)]


@settings(max_examples=40)
@given(
    st.lists(
        st.builds(
            Seen,
            st.sampled_from(["left", "right"]),
            st.sampled_from(["inner", "outer"]),
            st.sampled_from(["top", "bottom"]),
            st.integers(1, 10),
        ),
        max_size=16,
        unique=True,
    )
)
def test_as_many_pairs_as_possible_and_no_fan_twice(positions):
    pairs = pair_positions(positions)
    used = [fan for pair in pairs for fan in pair]
    assert len(set(used)) == len(used)
    assert all((a.eye, b.eye) == ("left", "right") for a, b in pairs)
    assert all((a.zone, a.layer) == (b.zone, b.layer) for a, b in pairs)
    for zone in ("inner", "outer"):
        for layer in ("top", "bottom"):
            here = [p.eye for p in positions if (p.zone, p.layer) == (zone, layer)]
            paired = sum((a.zone, a.layer) == (zone, layer) for a, _ in pairs)
            assert paired == min(here.count("left"), here.count("right"))


def test_symmetry_is_the_mean_difference_and_the_smaller_count_beside_the_larger():
    found = symmetry([PairedLengths(10, 10), PairedLengths(Decimal("9.5"), 11)], 38, 40)
    assert (found.pairs, found.mean_off_mm, found.worst_off_mm) == (2, Fraction(3, 4), Decimal("1.5"))
    assert found.count_off_percent == 5


def test_a_difference_that_was_planned_is_no_fault():
    assert symmetry([PairedLengths(12, 10, planned_difference_mm=2)]).mean_off_mm == 0
    assert symmetry([PairedLengths(10, 10, planned_difference_mm=2)]).mean_off_mm == 2


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.integers(5, 18), st.integers(5, 18)), max_size=8),
    st.integers(0, 99),
    st.integers(0, 99),
)
def test_symmetry_does_not_depend_on_which_eye_comes_first(lengths, left, right):
    here = symmetry([PairedLengths(a, b) for a, b in lengths], left, right)
    there = symmetry([PairedLengths(b, a) for a, b in lengths], right, left)
    assert here == there


def test_what_was_not_compared_is_not_called_even():
    nothing = symmetry([])
    assert (nothing.mean_off_mm, nothing.worst_off_mm, nothing.count_off_percent) == (None, None, None)
    assert symmetry([], 0, 0).count_off_percent is None


def test_a_count_below_none_is_refused():
    with pytest.raises(ValueError, match="cannot be below 0"):
        symmetry([], -1, 5)
