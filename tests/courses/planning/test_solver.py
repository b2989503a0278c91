"""The planner beside a search of every combination, its own validator, its clock and its seed."""

import subprocess
import sys
from dataclasses import replace
from itertools import count, islice

import pytest

from courses.planning.constraints import violations
from courses.planning.objective import value_of
from courses.planning.problem import Head, SessionKind
from courses.planning.solver import WHOLE, solve
from courses.planning.tables import tables_of
from tests.courses.planning.brute_force import Search
from tests.courses.planning.schools import (
    a_need,
    booked_school,
    booking,
    hours,
    one_bench,
    school,
)
from tests.courses.planning.small_cases import small_case

CASES, FEWEST, MOST = 200, 5, 15_000
BATCH = 50


def searched_cases():
    """Random cases with some choice, but few enough combinations to try all."""
    for seed in count():
        search = Search(small_case(seed))
        if FEWEST <= search.combinations() <= MOST:
            yield search


@pytest.fixture(scope="module")
def cases():
    return list(islice(searched_cases(), CASES))


@pytest.mark.parametrize("batch", range(CASES // BATCH))
def test_the_plan_is_worth_as_much_as_the_best_of_all_combinations(cases, batch):
    for search in cases[batch * BATCH : (batch + 1) * BATCH]:
        plan = solve(search.problem, time_limit_s=20, seed=1)
        assert (plan.value, plan.bound, plan.is_proven) == (search.best_value(), plan.value, True)
        assert violations(search.problem, plan) == ()


def test_the_random_cases_place_sessions_and_leave_some_out(cases):
    plans = [solve(search.problem, time_limit_s=20, seed=1) for search in cases[:BATCH]]
    missing = [
        sum(search.problem.to_place.values()) - len(plan.places)
        for search, plan in zip(cases, plans, strict=False)
    ]
    assert sum(len(plan.places) > 1 for plan in plans) >= 10 and sum(each > 0 for each in missing) >= 10


def large(seed=3, educators=2):
    return school(seed=seed, weeks=4, needs=120, benches=12, rooms=2, educators=educators)


@pytest.mark.parametrize("seed", [3, 4])
def test_a_large_plan_keeps_every_rule_and_says_what_it_is_worth(seed):
    problem = large(seed)
    assert len(tables_of(problem).found) > WHOLE
    plan = solve(problem, time_limit_s=4, seed=1)
    assert violations(problem, plan) == ()
    assert plan.value == value_of(problem, plan.places).total <= plan.bound
    assert len(plan.places) > 100


def test_a_plan_over_bookings_keeps_every_rule_and_leaves_the_frozen_alone():
    problem = large()
    booked = booked_school(problem, solve(problem, time_limit_s=1, seed=1).places, frozen_days=9)
    ill = replace(booked.educators[0], working=tuple(s for s in booked.educators[0].working if s.start % 5))
    changed = replace(booked, educators=(ill, *booked.educators[1:]))
    plan = solve(changed, time_limit_s=3, seed=1)
    assert violations(changed, plan) == ()
    frozen = {each.code for each in changed.frozen}
    assert len(frozen) > 20 and not frozen & {place.booked for place in plan.places}


def test_bookings_that_still_fit_stay_where_they_are():
    problem = large()
    places = solve(problem, time_limit_s=2, seed=1).places
    booked = booked_school(problem, places, frozen_days=0)
    kept = solve(booked, time_limit_s=2, seed=1)
    moved = -value_of(booked, kept.places).changed // booked.weights.changed
    assert moved <= len(places) // 10


@pytest.mark.parametrize(
    "problem", [large(), school(seed=1, weeks=2, needs=30, benches=6, rooms=1, educators=2)]
)
def test_the_same_seed_gives_the_same_plan(problem):
    first, second = (solve(problem, time_limit_s=2, seed=7).places for _ in range(2))
    assert first == second


def test_a_large_plan_can_be_asked_of_one_worker():
    plan = solve(large(), time_limit_s=1, seed=7, workers=1)
    assert violations(large(), plan) == ()


@pytest.mark.parametrize("limit", [0.0, 0.3])
def test_out_of_time_there_is_still_a_plan_that_keeps_every_rule(limit):
    problem = large()
    plan = solve(problem, time_limit_s=limit)
    assert violations(problem, plan) == () and len(plan.places) > 100
    assert plan.value <= plan.bound


def test_progress_rises_and_its_bound_holds():
    told = []
    plan = solve(large(), time_limit_s=3, seed=1, on_progress=told.append)
    values = [each.value for each in told]
    assert len(values) > 1 and values == sorted(values) and values[-1] == plan.value
    assert min(each.bound for each in told) >= plan.value


def test_a_small_plan_tells_its_progress_too():
    told = []
    plan = solve(
        school(seed=1, weeks=2, needs=30, benches=6, rooms=1, educators=2),
        time_limit_s=20,
        seed=1,
        on_progress=told.append,
    )
    assert plan.is_proven and told and max(each.value for each in told) == plan.value


def test_nothing_to_plan_is_a_plan():
    plan = solve(one_bench(needs=()), time_limit_s=1, seed=1)
    assert (plan.places, plan.value, plan.is_proven) == ((), 0, True)


def test_a_need_that_nobody_can_serve_stays_without_a_place():
    plan = solve(one_bench(needs=(a_need("n1", skill="placement"),)), time_limit_s=1, seed=1)
    assert plan.places == () and plan.is_proven


def test_a_booking_out_of_the_educators_hours_moves():
    plan = solve(one_bench(booked=(booking(2, 9),)), time_limit_s=1, seed=1)
    assert [place.booked for place in plan.places] == ["b1"]
    assert plan.places[0].span in (
        *[hours(0, h, h + 1) for h in (9, 10, 11)],
        *[hours(1, h, h + 1) for h in (9, 10, 11)],
    )


def test_counts_that_fit_but_cannot_be_told_apart_by_head_are_found_out():
    # Two heads, one of two layers. A and D need two layers, B and C any; A 9-10, B 9-11, C 10-12, D 11-12.
    # Never more than two at once, never more than one of two layers; but B and C would share the plain head.
    kind = SessionKind("bench", "supervised bench", 4)
    heads = (Head("h1", "Head 1", 2), Head("h2", "Head 2", 1))
    students, needs = zip(
        *[
            visitor("a", 9, 1, 2),
            visitor("b", 9, 2, 1),
            visitor("c", 10, 2, 1),
            visitor("d", 11, 1, 2),
        ],
        strict=True,
    )
    room = one_bench().rooms[0]
    wide = replace(
        room,
        benches=(*room.benches, replace(room.benches[0], code="b2"), replace(room.benches[0], code="b3")),
    )
    problem = one_bench(kinds=(kind,), heads=heads, students=students, needs=needs, rooms=(wide,))
    plan = solve(problem, time_limit_s=5, seed=1)
    assert violations(problem, plan) == ()
    assert len(plan.places) == 3 and plan.is_proven
    assert plan.value == Search(problem).best_value()


def visitor(code, start, length, layers):
    """A student who can only come then, and her need."""
    student = replace(one_bench().students[0], code=code, free=(hours(0, start, start + length),))
    return student, a_need(f"n-{code}", student=code, length_min=60 * length, layers=layers, drill=code)


def test_the_solver_is_loaded_when_it_is_first_used():
    code = "import sys, courses.planning.solver, courses.planning.explain; sys.exit('ortools' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
