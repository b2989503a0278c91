"""Each rule is broken once, by hand, and found; the same place without the fault is not."""

from dataclasses import replace

import pytest

from courses.planning.constraints import violations
from courses.planning.problem import Bench, Head, Room, Span
from tests.courses.planning.schools import (
    BENCH,
    DAY,
    DRILL,
    MONDAY,
    a_need,
    at,
    booking,
    hours,
    one_bench,
    plan_of,
)

TWO = (a_need("n1"), a_need("n2", student="noor"))
ROOMY = Room("r0", "Room A", one_bench().rooms[0].open, (Bench("b1", "Bench 1"), Bench("b2", "Bench 2")))
HEADS = (Head("h1", "Head 1", 2), Head("h2", "Head 2", 1))
BESIDE = {"need": "n2", "bench": "b2", "head": "h2"}


def rules(problem, *places):
    return {each.rule for each in violations(problem, plan_of(*places))}


def two(**changes):
    return one_bench(**{"needs": TWO, "rooms": (ROOMY,), "heads": HEADS, **changes})


def test_a_plan_without_fault_has_no_violation():
    assert rules(two(), at(0, 9), at(0, 9, **BESIDE)) == set()


@pytest.mark.parametrize(
    ("place", "rule"),
    [
        (at(0, 9, need="n9"), "unknown"),
        (at(0, 9, educator="omar"), "unknown"),
        (at(0, 9, bench="b9"), "unknown"),
        (at(0, 9, head="h9"), "unknown"),
        (at(0, 9, minutes=120), "length"),
        (at(0, 9.5), "off_grid"),
        (at(8, 9), "outside_days"),
        (at(0, 13), "student_away"),
        (at(0, 13), "educator_away"),
        (at(0, 13), "room_closed"),
        (at(0, 11.5), "student_away"),
        (at(0, 9, head=None), "head_missing"),
        (at(0, 9, booked="b9"), "booking"),
    ],
)
def test_a_place_against_a_rule_is_found(place, rule):
    assert rule in rules(one_bench(), place)


@pytest.mark.parametrize(
    ("changes", "rule"),
    [
        ({"frozen_until": MONDAY + DAY}, "frozen"),
        ({"needs": (a_need("n1", earliest=MONDAY + DAY),)}, "too_early"),
        ({"needs": (a_need("n1", skill="placement"),)}, "not_qualified"),
        ({"needs": (a_need("n1", layers=3),)}, "head_layers"),
        ({"heads": (Head("h1", "Head 1", 2, MONDAY - 2 * DAY, 2),)}, "strip_old"),
        ({"heads": (Head("h1", "Head 1", 2, MONDAY + DAY),)}, "head_held"),
        ({"heads": (Head("h1", "Head 1", 2, held=(hours(0, 8, 9.5),)),)}, "head_held"),
        ({"kinds": (replace(BENCH, rooms=frozenset({"r9"})),)}, "wrong_room"),
        (
            {"rooms": (replace(ROOMY, benches=(Bench("b1", "Bench 1", (hours(0, 9.5, 12),)),)),)},
            "bench_closed",
        ),
    ],
)
def test_a_place_on_monday_at_nine_is_against_a_rule_of_the_school(changes, rule):
    assert rule in rules(one_bench(**changes), at(0, 9))


def test_a_strip_that_ends_with_the_session_is_young_enough():
    strip = Head("h1", "Head 1", 2, hours(0, 9, 10).end - 2 * DAY, 2)
    assert rules(one_bench(heads=(strip,)), at(0, 9)) == set()


def test_times_that_touch_are_one_time():
    student = replace(one_bench().students[0], free=(hours(0, 9.5, 12), hours(0, 9, 9.5)))
    assert rules(one_bench(students=(student,)), at(0, 9)) == set()


@pytest.mark.parametrize(
    ("changes", "rule"), [({"bench": "b1"}, "bench_twice"), ({"head": "h1"}, "head_twice")]
)
def test_nothing_is_given_twice_at_once(changes, rule):
    assert rules(two(), at(0, 9), at(0, 9, **{**BESIDE, **changes})) == {rule}


def test_a_student_is_at_one_bench_at_a_time():
    problem = two(needs=(a_need("n1"), a_need("n2", skill="placement")))
    assert "student_twice" in rules(problem, at(0, 9), at(0, 9, **BESIDE))


def test_an_educator_has_as_many_seats_as_the_kind_has():
    problem = two(kinds=(replace(BENCH, capacity=1),))
    assert rules(problem, at(0, 9), at(0, 9, **BESIDE)) == {"capacity"}
    assert rules(problem, at(0, 9), at(0, 10, **BESIDE)) == set()


def test_an_educator_does_one_thing_at_a_time():
    needs = (a_need("n1"), a_need("n2", student="noor", kind="drill"))
    assert rules(two(needs=needs, kinds=(BENCH, DRILL)), at(0, 9), at(0, 9, **BESIDE)) == {"educator_torn"}


@pytest.mark.parametrize(("changes", "hour"), [({"drill": "other"}, 9), ({"length_min": 120}, 9)])
def test_a_group_is_on_one_drill_from_beginning_to_end(changes, hour):
    needs = (a_need("n1", kind="drill"), a_need("n2", student="noor", kind="drill", **changes))
    minutes = changes.get("length_min", 60)
    places = at(0, 9), at(0, hour, minutes=minutes, **BESIDE)
    assert rules(two(needs=needs), *places) == {"group_mixed"}


def test_no_more_sessions_than_needed():
    problem = one_bench(needs=(a_need("n1", least_days=1),))
    assert rules(problem, at(0, 9), at(1, 9)) == {"too_many"}


def test_sessions_of_one_skill_keep_their_days_apart():
    days = tuple(hours(day, 9, 12) for day in range(7))
    educator = replace(one_bench().educators[0], working=days)
    student, room = replace(one_bench().students[0], free=days), replace(ROOMY, open=days)
    problem = two(
        needs=(a_need("n1", sessions=2, least_days=3),),
        students=(student,),
        educators=(educator,),
        rooms=(room,),
    )
    assert rules(problem, at(0, 9), at(2, 11)) == {"days_apart"}
    assert rules(problem, at(0, 11), at(3, 9)) == set()


def test_frozen_bookings_may_be_wrong_but_nothing_planned_beside_them():
    wrong = (booking(3, 9, code="b1", is_fixed=True), booking(3, 9, code="b2", need=None, student="noor"))
    problem = two(booked=wrong, needs=(a_need("n1", sessions=2), TWO[1]))
    assert rules(problem, at(0, 9)) == set()
    assert "bench_twice" in rules(problem, at(3, 9, need="n2", head="h2"))


def test_a_booking_is_kept_once():
    problem = one_bench(booked=(booking(0, 9),), needs=(a_need("n1", sessions=2, least_days=1),))
    assert rules(problem, at(0, 9, booked="b1"), at(1, 9, booked="b1")) == {"booking"}


def test_a_booking_off_the_steps_may_stay():
    late = booking(0, 9, span=Span(hours(0, 9, 10).start + 20, hours(0, 9, 10).end + 20))
    assert rules(one_bench(booked=(late,)), at(0, 9 + 1 / 3, booked="b1")) == set()
