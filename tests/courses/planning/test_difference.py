"""The lines between what is booked and what is proposed."""

from dataclasses import replace

import pytest

from courses.planning.difference import Line, difference
from courses.planning.solver import solve
from tests.courses.planning.schools import a_need, at, booked_school, booking, one_bench, plan_of, school


def lines(problem, *places):
    return difference(problem, plan_of(*places))


def test_a_place_without_booking_is_new():
    [line] = lines(one_bench(), at(0, 9))
    assert (line.change, line.student, line.need, line.booked) == ("new", "ada", "n1", None)
    assert line.sentence == "New for Ada: Mon 15 Jun 09:00 UTC, Ines, Room A, Bench 1, Head 1."


def test_a_booking_without_place_is_cancelled():
    [line] = lines(one_bench(booked=(booking(0, 9),)))
    assert (line.change, line.place, line.sentence) == ("cancelled", None, "Ada loses Mon 15 Jun 09:00 UTC.")


def test_a_booking_at_its_place_is_unchanged():
    [line] = lines(one_bench(booked=(booking(0, 9),)), at(0, 9, booked="b1"))
    assert (line.change, line.changed, line.sentence) == ("unchanged", (), "Ada keeps Mon 15 Jun 09:00 UTC.")


@pytest.mark.parametrize(
    ("place", "changed"),
    [
        (at(0, 10, booked="b1"), ("time",)),
        (at(0, 9, booked="b1", educator="omar"), ("educator",)),
        (at(0, 9, booked="b1", bench="b2", head="h2"), ("bench", "head")),
        (at(1, 9, booked="b1", room="r1"), ("time", "room")),
    ],
)
def test_a_booking_elsewhere_is_moved_and_says_what_changed(place, changed):
    [line] = lines(one_bench(booked=(booking(0, 9),)), place)
    assert (line.change, line.changed) == ("moved", changed)
    assert ("moves from" in line.sentence) == ("time" in changed)


def test_frozen_bookings_are_unchanged_without_a_place():
    [line] = lines(one_bench(booked=(booking(0, 9, is_fixed=True),)))
    assert (line.change, line.place) == ("unchanged", None)


def test_a_line_waits_for_the_booking_whose_bench_it_takes():
    needs = (a_need("n1"), a_need("n2", student="noor"))
    problem = one_bench(needs=needs, booked=(booking(0, 9),))
    moved, new = at(0, 10, booked="b1"), at(0, 9, need="n2")
    found = {line.change: line.after for line in lines(problem, moved, new)}
    assert found == {"new": ("b1",), "moved": ()}


def test_two_that_change_places_wait_for_each_other():
    needs = (a_need("n1"), a_need("n2", student="noor"))
    both = (booking(0, 9), booking(0, 10, code="b2", student="noor", need="n2"))
    found = lines(
        one_bench(needs=needs, booked=both), at(0, 10, booked="b1"), at(0, 9, need="n2", booked="b2")
    )
    assert [line.after for line in found] == [("b1",), ("b2",)]


def test_every_booking_and_every_place_has_one_line():
    before = school(seed=1, weeks=2, needs=30, benches=6, rooms=1, educators=2)
    problem = booked_school(before, solve(before, time_limit_s=2, seed=1).places, frozen_days=3)
    away = replace(problem.educators[0], working=())
    problem = replace(problem, educators=(away, *problem.educators[1:]))
    plan = solve(problem, time_limit_s=2, seed=1)
    found = difference(problem, plan)
    assert sorted(line.booked.code for line in found if line.booked) == sorted(b.code for b in problem.booked)
    assert sorted(line.place for line in found if line.place) == sorted(plan.places)
    assert {line.change for line in found} > {"unchanged", "cancelled"}
    assert [line.span for line in found] == sorted(line.span for line in found)


def test_a_line_is_about_something():
    with pytest.raises(ValueError, match="a booking, a place or both"):
        _ = Line("new", "ada", None, None, None, "").span
