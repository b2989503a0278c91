"""Refusals that say what to change, and days that need no wall clock."""

from dataclasses import replace

import pytest

from courses.planning.problem import Plan, ProblemError, Span, Weights
from tests.courses.planning.schools import DAY, HOUR, MONDAY, a_need, booking, one_bench


def refused(**changes):
    with pytest.raises(ProblemError) as caught:
        one_bench(**changes)
    assert caught.value.message.endswith(".")
    return caught.value.code


def test_a_span_ends_after_it_begins():
    with pytest.raises(ProblemError, match="must end after"):
        Span(10, 10)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"day_starts": (MONDAY,)}, "days_out_of_order"),
        ({"day_starts": (MONDAY + DAY, MONDAY)}, "days_out_of_order"),
        ({"step_min": 0}, "no_step"),
        ({"needs": (a_need("n1"), a_need("n1"))}, "code_twice"),
        ({"needs": (a_need("n1", length_min=0),)}, "need_out_of_range"),
        ({"needs": (a_need("n1", least_days=0),)}, "need_out_of_range"),
        ({"needs": (a_need("n1", least_days=4, most_days=3),)}, "spacing_crossed"),
        ({"needs": (a_need("n1", student="omar"),)}, "student_unknown"),
        ({"needs": (a_need("n1", kind="party"),)}, "kind_unknown"),
        ({"weights": Weights(placed=-1)}, "weight_below_0"),
        ({"booked": (booking(0, 9, need="n9"),)}, "need_unknown"),
        ({"booked": (booking(0, 9, student="noor"),)}, "need_unknown"),
        ({"booked": (booking(0, 9, kind="party"),)}, "kind_unknown"),
        ({"booked": (booking(9, 9),)}, "booking_outside"),
    ],
)
def test_what_cannot_be_planned_is_refused(changes, code):
    assert refused(**changes) == code


def test_a_kind_of_session_has_room_for_somebody():
    kinds = one_bench().kinds
    assert refused(kinds=(replace(kinds[0], capacity=0), *kinds[1:])) == "no_capacity"


def test_a_day_of_23_hours_is_a_day():
    # Clocks go forward in the night to the second day: it begins 24 h after the first, the third 23 h later.
    problem = one_bench(day_starts=(MONDAY, MONDAY + DAY, MONDAY + 2 * DAY - HOUR, MONDAY + 3 * DAY - HOUR))
    before_midnight, midnight = MONDAY + 2 * DAY - HOUR - 1, MONDAY + 2 * DAY - HOUR
    assert [problem.day_of(before_midnight), problem.day_of(midnight)] == [1, 2]


def test_days_before_the_first_count_below_0():
    problem = one_bench()
    assert [problem.day_of(MONDAY - 1), problem.day_of(MONDAY - DAY), problem.day_of(MONDAY - DAY - 1)] == [
        -1,
        -1,
        -2,
    ]


def test_bookings_stand_when_near_fixed_or_for_no_need():
    near, fixed = booking(0, 9, code="near"), booking(1, 9, code="fixed", is_fixed=True)
    loose, other = booking(1, 10, code="loose"), booking(1, 11, code="other", need=None)
    problem = one_bench(
        needs=(a_need("n1", sessions=4),), frozen_until=MONDAY + 10 * HOUR, booked=(near, fixed, loose, other)
    )
    assert [each.code for each in problem.frozen] == ["near", "fixed", "other"]
    assert problem.movable == (loose,)
    assert problem.to_place == {"n1": 2}


def test_the_widest_spacing_of_a_student_and_skill_holds():
    needs = (a_need("n1", least_days=2), a_need("n2", least_days=4), a_need("n3", student="noor"))
    assert one_bench(needs=needs).least_days == {("ada", "isolation"): 4, ("noor", "isolation"): 2}


def test_the_gap_is_the_share_of_the_bound_that_may_still_be_won():
    assert Plan((), 95, 100).gap == pytest.approx(0.05)
    assert Plan((), 100, 100, is_proven=True).gap == 0.0
