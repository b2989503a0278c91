"""Fans beside one reference extension, against figures worked out and figures published."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from courses.mapping.load import (
    PBT_DENSITY_MG_MM3,
    filament_mass_mg,
    load_percent,
    max_filaments,
    mixed_load_percent,
    rule_load,
)

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


@settings(max_examples=60)
@given(filaments=st.integers(0, 30), diameter=st.integers(1, 24))
def test_the_load_grows_with_filaments_and_with_diameter(filaments, diameter):
    here = load_percent(filaments, diameter)
    assert here <= load_percent(filaments + 1, diameter)
    assert here <= load_percent(filaments, diameter + 1)


@settings(max_examples=60)
@given(filaments=st.integers(0, 30), diameter=st.integers(1, 25), length=st.integers(5, 18))
def test_fans_as_long_as_the_reference_weigh_what_their_section_says(filaments, diameter, length):
    mixed = mixed_load_percent(filaments, diameter, {length: 100}, reference_mm=length)
    assert mixed == load_percent(filaments, diameter)


def test_a_mix_of_lengths_weighs_by_its_mean_length():
    # Four 0.07 beside one 0.15 of 10 mm, 70 % of 8 mm and 30 % of 12 mm, on paper:
    # 4 · 49 · (0.7 · 8 + 0.3 · 12) / (225 · 10) = 196 · 9.2 / 2250 = 80.14 %.
    assert mixed_load_percent(4, 7, {8: 70, 12: 30}, reference_mm=10) == 80


@pytest.mark.parametrize("lengths", [{}, {9: 0}, {0: 1}, {9: -1, 10: 3}])
def test_a_mix_of_nothing_has_no_load(lengths):
    with pytest.raises(ValueError, match="at least 1 fan"):
        mixed_load_percent(4, 7, lengths, reference_mm=10)


# A programme's limits lie below the arithmetic: 5 to 7 filaments of 0.05 and 3 to 4 of 0.07
# (common practice, no source).
@pytest.mark.parametrize(
    ("limit", "most", "over_by", "is_programme"),
    [(None, 9, 0, False), (7, 7, 1, True), (12, 9, 0, False), (9, 9, 0, False)],
)
def test_the_lower_limit_rules(limit, most, over_by, is_programme):
    ruling = rule_load(8, 5, programme_limit=limit)
    assert (ruling.most, ruling.over_by, ruling.is_programme_ruling) == (most, over_by, is_programme)
    assert ruling.arithmetic_ceiling == 9 and ruling.percent == 89  # 200 / 225


# Cylinders of PBT at 1.31 mg/mm³, whose data sheets say 1.30 to 1.31 g/cm³ (ASTM D792):
# 1.31 · π/4 · d² · L on paper, to four decimals.
MASSES = [
    *((1, 3, 10, 0.0093), (1, 4, 10, 0.0165), (1, 5, 10, 0.0257), (1, 6, 10, 0.0370), (1, 7, 10, 0.0504)),
    *((1, 8, 10, 0.0658), (1, 10, 10, 0.1029), (1, 12, 10, 0.1482), (1, 15, 10, 0.2315)),
    *((1, 15, 12, 0.2778), (4, 7, 12, 0.2420)),
]


@pytest.mark.parametrize(("filaments", "diameter", "length", "mass"), MASSES)
def test_the_mass_of_a_cylinder_of_pbt(filaments, diameter, length, mass):
    assert filament_mass_mg(filaments, diameter, length) == pytest.approx(mass, abs=0.0001)


def test_the_other_density_of_the_data_sheets_moves_the_mass_by_less_than_one_per_cent():
    assert PBT_DENSITY_MG_MM3 == 1.31
    assert filament_mass_mg(1, 15, 10, 1.30) == pytest.approx(0.2315, rel=0.01)


@settings(max_examples=40)
@given(filaments=st.integers(1, 30), diameter=st.integers(1, 25), length=st.integers(5, 18))
def test_mass_and_relative_load_tell_the_same_story(filaments, diameter, length):
    ratio = filament_mass_mg(filaments, diameter, length) / filament_mass_mg(1, 15, length)
    assert abs(100 * ratio - load_percent(filaments, diameter)) <= 0.5 + 1e-6
