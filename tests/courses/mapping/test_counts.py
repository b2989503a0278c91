from collections import Counter
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from courses.mapping.counts import (
    expected_length_mm,
    fan_lengths_mm,
    fans_from_coverage,
    largest_remainder,
    length_counts,
    plan_counts,
    spread,
    time_plan,
)
from courses.mapping.lash_map import Cell, MapError
from tests.courses.mapping.maps import CLOSED, ZONES, lash_maps, mix, mixes, soft_volume, texture


@settings(max_examples=40)
@given(lash_maps(), st.integers(0, 250))
def test_counts_add_up_to_the_plan_for_each_eye(lash_map, fans_per_eye):
    plan = plan_counts(lash_map, fans_per_eye)
    assert plan.of(eye="left") == plan.of(eye="right") == fans_per_eye
    assert plan.total == 2 * fans_per_eye


@settings(max_examples=40)
@given(lash_maps(), st.integers(0, 250))
def test_zones_of_an_eye_and_layers_of_a_zone_differ_by_one_fan_at_most(lash_map, fans_per_eye):
    plan = plan_counts(lash_map, fans_per_eye)
    zones = [plan.of(eye="left", zone=zone) for zone in lash_map.zones]
    assert max(zones) - min(zones) <= 1
    for zone in lash_map.zones:
        layers = [plan.of(eye="left", zone=zone, layer=layer) for layer in lash_map.layers]
        assert max(layers) - min(layers) <= 1


def test_a_fan_left_over_goes_to_the_middle_of_the_lid():
    plan = plan_counts(texture((8, 100)), 42)
    assert [plan.of(eye="right", zone=zone) for zone in ZONES] == [10, 11, 11, 10]


def test_zones_and_layers_may_be_weighted():
    plan = plan_counts(
        soft_volume(),
        60,
        zone_weights=dict(zip(ZONES, (1, 2, 2, 1), strict=True)),
        layer_weights={"top": 3, "bottom": 1},
    )
    assert [plan.of(eye="left", zone=zone) for zone in ZONES] == [10, 20, 20, 10]
    assert plan.of(eye="left", zone="inner_mid", layer="top") == 15


def test_the_method_of_largest_remainders_gives_the_textbook_seats():
    # Hamilton's method: 1000 votes as 470, 160, 158, 120, 61, 31 for 10 seats are quotas of
    # 4.7, 1.6, 1.58, 1.2, 0.61 and 0.31; the whole parts leave 3 seats for the remainders .7, .61 and .6.
    assert largest_remainder(10, [470, 160, 158, 120, 61, 31], range(6)) == [5, 2, 1, 1, 1, 0]


@pytest.mark.parametrize("weights", [[], [0, 0], [3, -1]])
def test_weights_that_share_nothing_are_refused(weights):
    with pytest.raises(ValueError, match="Weights must be"):
        largest_remainder(5, weights, range(len(weights)))


def test_fans_below_none_are_refused():
    with pytest.raises(ValueError, match="cannot be placed"):
        plan_counts(soft_volume(), -1)


@pytest.mark.parametrize(
    ("lashes", "coverage", "fans"), [(80, 100, 80), (80, 75, 60), (90, 70, 63), (45, 50, 22), (47, 50, 24)]
)
def test_fans_follow_from_coverage(lashes, coverage, fans):
    assert fans_from_coverage(lashes, coverage) == fans


@settings(max_examples=80)
@given(st.lists(st.integers(1, 60), min_size=2, max_size=5), st.integers(1, 80))
def test_after_every_step_each_share_is_met_within_tijdemans_bound(weights, steps):
    # Tijdeman 1980: never off by more than 1 - 1/(2k - 2) with k weights.
    bound = 1 - Fraction(1, 2 * len(weights) - 2)
    served = Counter()
    for step, chosen in enumerate(spread(tuple(weights), steps), 1):
        served[chosen] += 1
        for nth, weight in enumerate(weights):
            assert abs(served[nth] - Fraction(step * weight, sum(weights))) <= bound


@settings(max_examples=40)
@given(mixes(), st.integers(1, 120))
def test_shares_are_reproduced_within_one_fan(lengths, fans):
    placed = Counter(fan_lengths_mm(Cell(lengths, CLOSED), fans))
    for part in lengths:
        assert abs(placed[part.length_mm] - Fraction(fans * part.share, 100)) < 1


def test_peaks_stand_evenly_apart():
    lengths = fan_lengths_mm(Cell(mix((8, 80), (12, 20)), CLOSED), 20)
    peaks = [nth for nth, length in enumerate(lengths) if length == 12]
    assert [after - before for before, after in pairwise(peaks)] == [5, 5, 5]


def test_halves_take_turns_from_the_shorter():
    assert fan_lengths_mm(Cell(mix((12, 50), (8, 50)), CLOSED), 6) == (8, 12, 8, 12, 8, 12)


def test_the_length_of_one_fan_can_be_asked_and_does_not_move_when_more_are_placed():
    lash_map = texture((8, 80), (12, 20))
    whole = fan_lengths_mm(lash_map.cells["both", "outer_mid", "top"], 10)
    asked = [expected_length_mm(lash_map, "left", "outer_mid", "top", fan, 10) for fan in range(1, 11)]
    longer = [expected_length_mm(lash_map, "right", "outer_mid", "top", fan, 40) for fan in range(1, 11)]
    assert tuple(asked) == whole == tuple(longer)


@pytest.mark.parametrize("fan", [0, 11])
def test_a_fan_that_is_not_there_has_no_length(fan):
    with pytest.raises(MapError, match="Count from 1 at the inner corner"):
        expected_length_mm(texture((8, 100)), "left", "inner", "top", fan, 10)


def test_fans_of_each_length_add_up_to_the_plan():
    lash_map = texture((8, 80), (12, 20))
    plan = plan_counts(lash_map, 40)
    counts = length_counts(lash_map, plan)
    assert counts["left", "inner", "top"] == {8: 8, 12: 2}
    assert sum(sum(each.values()) for each in counts.values()) == plan.total


def test_the_time_plan_ends_with_the_target():
    # 120 min for 160 fans are 7200 / 160 = 45 s a fan, on paper; 10 fans in each of 16 cells.
    rows = time_plan(plan_counts(soft_volume(), 80), 120)
    assert {(row.fans, row.seconds) for row in rows} == {(10, 450)}
    assert [row.done_by_s for row in rows] == [450 * nth for nth in range(1, 17)]
    assert [(row.eye, row.layer, row.zone) for row in rows[3:5]] == [
        ("left", "top", "outer"),
        ("left", "bottom", "inner"),
    ]


def test_time_may_be_kept_back_for_the_check_at_the_end():
    rows = time_plan(plan_counts(soft_volume(), 77), 120, check_minutes=5)
    assert rows[-1].done_by_s == sum(row.seconds for row in rows) == 115 * 60


def test_a_check_as_long_as_the_set_is_refused():
    with pytest.raises(ValueError, match="leave no time to work"):
        time_plan(plan_counts(soft_volume(), 77), 20, check_minutes=20)
