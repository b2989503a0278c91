"""Each part of a plan's value, worked out by hand from the weights."""

from dataclasses import fields, replace

from courses.planning.objective import Value, value_of
from courses.planning.problem import Weights
from tests.courses.planning.schools import DAY, MONDAY, a_need, at, booking, one_bench

WEIGHTS = Weights(
    placed=1000, late_day=10, late_days_most=3, apart_day=7, long_again=50, unfair=30, together=4, changed=90
)


def parts(problem, *places):
    """The parts of the value that are not 0."""
    value = value_of(replace(problem, weights=WEIGHTS), places)
    return {each.name: part for each in fields(Value) if (part := getattr(value, each.name))}


def test_a_placed_session_counts_by_priority():
    assert parts(one_bench(needs=(a_need("n1", priority=3),)), at(0, 9)) == {"placed": 3000}


def test_days_after_the_due_date_cost_by_priority_up_to_a_limit():
    need = a_need("n1", due=MONDAY + 600, priority=2)
    late = {day: parts(one_bench(needs=(need,)), at(day, 9)).get("late") for day in (0, 1, 3, 5)}
    assert late == {0: None, 1: -20, 3: -60, 5: -60}


def test_days_beyond_the_most_between_sessions_of_a_need_cost():
    need = a_need("n1", sessions=3, least_days=1, most_days=2)
    assert parts(one_bench(needs=(need,)), at(0, 9), at(2, 9), at(6, 9)) == {"placed": 3000, "apart": -14}


def test_a_frozen_booking_counts_among_the_sessions_of_its_need():
    need = a_need("n1", sessions=2, least_days=1, most_days=2)
    problem = one_bench(needs=(need,), booked=(booking(0, 9, is_fixed=True),))
    assert parts(problem, at(4, 9)) == {"placed": 1000, "apart": -14}


def test_each_further_long_session_of_a_day_costs():
    needs = tuple(a_need(f"n{nth}", length_min=120, skill=f"skill {nth}") for nth in range(3))
    places = [at(0, 9 + 3 * nth, need=f"n{nth}", minutes=120) for nth in range(3)]
    assert parts(one_bench(needs=needs), *places)["long_again"] == -100


def test_the_sessions_a_student_goes_without_cost_0_1_2():
    assert parts(one_bench(needs=(a_need("n1", sessions=3),))) == {"unfair": -90}
    shared = (a_need("n1"), a_need("n2"), a_need("n3", student="noor"))
    assert parts(one_bench(needs=shared)) == {"unfair": -30}


def test_students_on_one_drill_at_one_time_under_one_educator_are_company():
    needs = (a_need("n1"), a_need("n2", student="noor"))
    assert parts(one_bench(needs=needs), at(0, 9), at(0, 9, need="n2"))["together"] == 4
    assert "together" not in parts(one_bench(needs=needs), at(0, 9), at(0, 10, need="n2"))
    assert "together" not in parts(one_bench(needs=needs), at(0, 9), at(0, 9, need="n2", educator="omar"))


def test_a_booking_that_does_not_stay_as_it_is_costs():
    problem = one_bench(booked=(booking(0, 9),))
    assert "changed" not in parts(problem, at(0, 9, bench="b2", head="h2"))
    for place in (at(0, 10), at(0, 9, educator="omar"), at(0, 9, room="r1")):
        assert parts(problem, place)["changed"] == -90
    assert parts(problem) == {"changed": -90}


def test_the_total_is_the_sum_of_its_parts():
    value = Value(placed=1, late=-2, apart=-4, long_again=-8, unfair=-16, together=32, changed=-64)
    assert value.total == -61


def test_lateness_counts_local_days_not_hours():
    need = a_need("n1", due=MONDAY + DAY - 1)
    assert "late" not in parts(one_bench(needs=(need,)), at(0, 9))
    assert parts(one_bench(needs=(need,)), at(1, 9))["late"] == -10
