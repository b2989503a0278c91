"""What may be handed over from the bench, and how fans are counted."""

import math
from decimal import Decimal

import pytest

from assessments.scoring.evidence import Evidence, PositionFinding, ScoringInputError, paired_lengths


def fan(*faults, **measures):
    return PositionFinding("left", "inner", "1", frozenset(faults), **measures)


BARE = PositionFinding("left", "inner", "1", bare=True)


def test_a_fan_with_two_of_the_faults_counts_once():
    # One fan can carry several faults but is one fan inspected: common practice, no source.
    evidence = Evidence((fan("STK", "BBY"), fan("STK"), fan("GAP"), fan()))
    assert evidence.fans_with({"STK", "BBY"}) == 2
    assert evidence.fans_with(["GAP"]) == 1
    assert evidence.fans_with(()) == 0


def test_a_bare_position_is_not_a_fan_inspected():
    evidence = Evidence((fan("STK"), BARE, fan()))
    assert len(evidence.fans) == 2
    assert evidence.bare == 1


def test_a_bare_position_may_carry_the_bare_mark_only():
    marked = PositionFinding("left", "inner", "1", frozenset({"MIS"}), bare=True)
    assert Evidence((marked,)).fans_with({"MIS"}) == 0
    with pytest.raises(ScoringInputError, match="marked bare but has CLF, STK ticked") as caught:
        fan("STK", "CLF", "MIS", bare=True)
    assert caught.value.code == "bare_with_faults"


@pytest.mark.parametrize("measure", [{"gap_mm": 0.7}, {"direction_deg": 5.0}, {"length_mm": Decimal(9)}])
def test_a_bare_position_has_nothing_to_measure(measure):
    with pytest.raises(ScoringInputError) as caught:
        fan(bare=True, **measure)
    assert caught.value.code == "bare_measured"


@pytest.mark.parametrize(
    ("make", "given", "code"),
    [
        (fan, {"gap_mm": -0.1}, "negative_gap"),
        (fan, {"gap_mm": 20.1}, "gap_too_wide"),
        (fan, {"gap_mm": math.nan}, "gap_not_a_number"),
        (fan, {"direction_deg": -1.0}, "direction_out_of_range"),
        (fan, {"direction_deg": 180.5}, "direction_out_of_range"),
        (fan, {"direction_deg": math.nan}, "direction_out_of_range"),
        (Evidence, {"worked_s": 0}, "non_positive_time"),
        (Evidence, {"target_s": -60}, "non_positive_time"),
        (Evidence, {"target_s": math.nan}, "non_positive_time"),
        (Evidence, {"left_count": -1}, "negative_count"),
        (Evidence, {"right_count": -1}, "negative_count"),
    ],
)
def test_what_cannot_be_true_is_refused_with_a_sentence(make, given, code):
    with pytest.raises(ScoringInputError) as caught:
        make(**given)
    assert caught.value.code == code
    assert caught.value.message.endswith(".")


def test_the_ends_of_each_measure_are_allowed():
    assert fan(gap_mm=0.0, direction_deg=0.0).gap_mm == 0
    assert fan(gap_mm=20.0, direction_deg=180.0).direction_deg == 180


def test_the_message_names_the_position_to_correct():
    with pytest.raises(ScoringInputError, match="left eye, inner, layer 1 is 70 mm"):
        fan(gap_mm=70)


@pytest.mark.parametrize(
    ("length", "code"),
    [
        ("2.9", "length_out_of_range"),
        ("25.1", "length_out_of_range"),
        ("-9", "length_out_of_range"),
        ("9.25", "length_too_fine"),
        ("NaN", "length_not_a_number"),
        ("Infinity", "length_not_a_number"),
    ],
)
def test_an_impossible_length_is_refused_with_a_sentence(length, code):
    with pytest.raises(ScoringInputError) as caught:
        fan(length_mm=Decimal(length))
    assert caught.value.code == code and caught.value.message.endswith(".")


@pytest.mark.parametrize(
    ("length", "off"),
    [("10", False), ("10.9", False), ("9.1", False), ("11", True), ("9", True), ("3", True)],
)
def test_a_fan_is_off_the_map_from_1_mm(length, off):
    # Off by 1 mm or more counts as a fault: the criterion's own wording, a proposal, no standard.
    assert fan(length_mm=Decimal(length), planned_mm=10).is_off_map is off


def test_without_a_plan_or_a_measure_nothing_is_off_the_map():
    assert not fan(planned_mm=10).is_off_map
    assert not fan(length_mm=Decimal(15)).is_off_map


def test_only_fans_at_the_same_place_of_both_eyes_are_pairs():
    def measured(eye, zone="inner", layer="top", nth=1, length=9):
        return PositionFinding(eye, zone, layer, fan=nth, length_mm=Decimal(length), planned_mm=9)

    findings = [
        measured("right", length=10),
        measured("left", nth=2),
        measured("left"),
        measured("right", zone="outer"),
        measured("left", layer="bottom"),
        PositionFinding("right", "inner", "bottom", fan=1, planned_mm=9),
    ]
    (pair,) = paired_lengths(findings)
    assert (pair.left_mm, pair.right_mm, pair.off_mm) == (9, 10, 1)
