"""Fans beside one reference extension, against figures worked out and figures published."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from courses.mapping.load import load_percent, max_filaments

# n · d² = D² on paper, in hundredths of a millimetre: 225 // d², 144 // d², 324 // d², 400 // d².
# The 0.15 column's exact values 25, 14.06, 9, 6.25 and 4.59 agree with a published trade maths page
# (23.6, 14.2, 8.8, 6.5, 4.6: the same law, rounded early).
CEILINGS = [
    (3, 16, 25, 36, 44),
    (4, 9, 14, 20, 25),
    (5, 5, 9, 12, 16),
    (6, 4, 6, 9, 11),
    (7, 2, 4, 6, 8),
    (8, 2, 3, 5, 6),
    (10, 1, 2, 3, 4),
    (12, 1, 1, 2, 2),
    (15, 0, 1, 1, 1),
]


@pytest.mark.parametrize(("diameter", "of_12", "of_15", "of_18", "of_20"), CEILINGS)
def test_ceilings_are_the_whole_part_of_the_ratio_of_squares(diameter, of_12, of_15, of_18, of_20):
    found = [max_filaments(diameter, reference) for reference in (12, 15, 18, 20)]
    assert found == [of_12, of_15, of_18, of_20]


def test_the_reference_is_015_unless_another_is_named():
    assert max_filaments(7) == 4


def test_nine_filaments_of_005_are_not_lost_to_floating_point():
    trap = 0.0225 / 0.05**2  # IEEE 754 double precision: 8.999999999999998
    assert int(trap) == 8
    assert max_filaments(5) == 9


# A published table calls a fan of 6 × 0.05 twice the weight of one 0.15: it is 0.0150 / 0.0225 mm².
# A published competition rule set allows 9 × 0.07, which is 0.0441 / 0.0225 mm².
@pytest.mark.parametrize(
    ("filaments", "diameter", "percent"), [(6, 5, 67), (9, 7, 196), (9, 5, 100), (0, 7, 0)]
)
def test_relative_load_corrects_published_errors(filaments, diameter, percent):
    assert load_percent(filaments, diameter) == percent


def test_a_half_per_cent_goes_up():
    # 1 × 0.03² beside 0.20²: 9 / 400 = 2.25 %; 2 × 0.03² beside 0.15²: 8 %; 1 × 0.05 beside 0.20: 6.25 %;
    # 2 × 0.05 beside 0.20: 12.5 %, the half.
    assert [load_percent(2, 5, 20), load_percent(1, 5, 20)] == [13, 6]


@settings(max_examples=60)
@given(diameter=st.integers(1, 30), reference=st.integers(1, 30))
def test_the_ceiling_fits_and_one_more_does_not(diameter, reference):
    most = max_filaments(diameter, reference)
    assert most * diameter**2 <= reference**2 < (most + 1) * diameter**2


@settings(max_examples=60)
@given(filaments=st.integers(0, 40), diameter=st.integers(1, 30), reference=st.integers(1, 30))
def test_the_load_is_within_half_a_per_cent_of_the_exact_ratio(filaments, diameter, reference):
    exact = Fraction(100 * filaments * diameter**2, reference**2)
    assert abs(load_percent(filaments, diameter, reference) - exact) <= Fraction(1, 2)


@pytest.mark.parametrize(("filaments", "diameter", "reference"), [(-1, 5, 15), (3, 0, 15), (3, 5, 0)])
def test_impossible_fans_are_refused(filaments, diameter, reference):
    with pytest.raises(ValueError, match=r"cannot have|not possible"):
        load_percent(filaments, diameter, reference)
