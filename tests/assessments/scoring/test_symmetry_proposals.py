"""Left and right are compared by their counts and by lengths of fans at the same place; the lower rules."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.scoring.evidence import Evidence, PositionFinding
from assessments.scoring.proposals import NOT_ENOUGH, propose
from assessments.scoring.rules import parse_rule

RULE = parse_rule("difference", {"percent_at_most": [5, 9, 19], "mm_at_most": [0.5, 1, 2], "unit": "fans"})
COUNTS_ONLY = parse_rule("difference", {"percent_at_most": [5, 9, 19], "unit": "fans"})


def at(eye, length_mm, *, fan=1, planned_mm=10):
    return PositionFinding(
        eye, "inner", "top", fan=fan, length_mm=Decimal(str(length_mm)), planned_mm=planned_mm
    )


def seen(*lengths, left=80, right=80):
    """Pairs of lengths found, left and right, each pair at a fan of its own."""
    positions = tuple(
        at(eye, length, fan=fan)
        for fan, pair in enumerate(lengths, 1)
        for eye, length in zip(("left", "right"), pair, strict=True)
    )
    return Evidence(positions, left_count=left, right_count=right)


@pytest.mark.parametrize(
    ("lengths", "level"),
    # Means on paper: 0, 0.5, 0.75, 1, 1.5, 2, 2.5 mm. Within 0.5 mm for level 4: the programme's own choice.
    [
        ([(10, 10), (9, 9)], 4),
        ([(10, 10.5), (9, 8.5)], 4),
        ([(10, 11), (9, 9.5)], 3),
        ([(10, 11)], 3),
        ([(10, 11), (9, 11)], 2),
        ([(10, 12)], 2),
        ([(10, 12.5)], 1),
    ],
)
def test_equal_counts_leave_the_level_to_the_mean_length_difference(lengths, level):
    assert propose(RULE, seen(*lengths)).level == level


def test_the_lower_of_counts_and_lengths_rules():
    # 72 of 80 is 10 % apart: level 2 by count.
    assert propose(RULE, seen((10, 10), left=72)).level == 2
    assert propose(RULE, seen((10, 13), left=80)).level == 1


def test_the_words_say_both():
    found = propose(RULE, seen((10, 11), (9, 9.5), left=78))
    assert found.words == (
        "78 fans left, 80 right: 2.5 % apart, band 4. "
        "2 pairs 0.75 mm apart in length on average, band 3. The lower rules: band 3."
    )
    same = propose(RULE, seen((10, 10.5)))
    assert same.words.endswith("1 pair 0.5 mm apart in length on average, band 4.")


def test_without_a_measured_pair_the_counts_speak_and_the_words_say_so():
    single = Evidence((at("left", 10), at("right", 12, fan=2)), left_count=80, right_count=80)
    found = propose(RULE, single)
    assert (found.level, found.words.endswith("No paired lengths measured.")) == (4, True)


def test_counts_are_still_needed():
    assert propose(RULE, seen((10, 10), left=None)).status == NOT_ENOUGH


def test_a_rubric_that_asks_for_no_lengths_judges_as_before():
    assert propose(COUNTS_ONLY, seen((10, 15), left=78)).words == (
        "78 fans left, 80 right: 2.5 % apart, band 4."
    )


def test_what_the_map_plans_apart_is_no_fault_of_symmetry():
    planned_apart = (at("left", 11, planned_mm=11), at("right", 9, planned_mm=9))
    assert propose(RULE, Evidence(planned_apart, left_count=80, right_count=80)).level == 4


lengths = st.tuples(st.integers(60, 150), st.integers(60, 150)).map(lambda pair: [each / 10 for each in pair])


@given(st.lists(lengths, min_size=1, max_size=8))
def test_exchanging_the_eyes_changes_nothing_and_no_length_lifts_the_counts(pairs):
    found, mirrored = propose(RULE, seen(*pairs)), propose(RULE, seen(*(pair[::-1] for pair in pairs)))
    assert (found.level, found.words) == (mirrored.level, mirrored.words)
    assert found.level <= propose(COUNTS_ONLY, seen(*pairs)).level
