"""No plan may be worth more than the bound."""

from itertools import count, islice

import numpy as np
import pytest
from scipy.optimize import milp

from courses.planning.bound import settled_points, simple_bound, value_bound
from courses.planning.problem import Weights
from courses.planning.tables import tables_of
from tests.courses.planning.brute_force import Search
from tests.courses.planning.schools import a_need, booking, one_bench, school
from tests.courses.planning.small_cases import small_case


def searched_cases(cases):
    searches = (Search(small_case(seed)) for seed in count(1000))
    return islice((each for each in searches if 5 <= each.combinations() <= 5_000), cases)


def test_no_combination_is_worth_more_than_either_bound():
    for search in searched_cases(40):
        tables = tables_of(search.problem)
        best = search.best_value()
        assert best <= value_bound(tables, 10.0) <= simple_bound(tables)


def test_one_bench_for_one_hour_is_shared_by_nobody():
    # One hour, one bench: the better of the two sessions, 200 points, and not 300.
    educator = one_bench().educators[0]
    first = educator.working[0]
    hour = type(first)(first.start, first.start + 60)
    short = type(educator)(educator.code, educator.name, (hour,), educator.skills)
    needs = (a_need("n1", priority=2), a_need("n2", student="noor"))
    tables = tables_of(one_bench(needs=needs, educators=(short,), weights=Weights(together=0)))
    assert (value_bound(tables, 10.0), simple_bound(tables)) == (200, 300)


def test_sessions_that_cannot_be_placed_count_against_fairness():
    needs = (a_need("n1", skill="placement"), a_need("n2", skill="placement"), a_need("n3"))
    tables = tables_of(one_bench(needs=needs))
    assert value_bound(tables, 10.0) == 100 - Weights().unfair


def test_bookings_that_may_change_count_before_anything_is_placed():
    tables = tables_of(one_bench(booked=(booking(0, 9),), weights=Weights(changed=40)))
    assert settled_points(tables) == -40
    assert value_bound(tables, 10.0) == 100


def test_out_of_time_the_simple_bound_stands():
    tables = tables_of(school(seed=1, weeks=4, needs=120, benches=12, rooms=2, educators=2))
    assert value_bound(tables, 0.0) == simple_bound(tables)


@pytest.mark.parametrize("needs", [(), (a_need("n1", skill="placement"),)])
def test_with_nothing_to_place_nothing_is_won(needs):
    assert value_bound(tables_of(one_bench(needs=needs)), 10.0) == 0


def test_a_mixed_integer_solver_finds_no_better_way_to_share_one_bench():
    # The rows "one student a bench" as a packing problem of their own, solved by HiGHS.
    problem = one_bench(
        needs=tuple(
            a_need(f"n{nth}", student=("ada", "noor")[nth % 2], skill="isolation") for nth in range(4)
        ),
        weights=Weights(together=0, unfair=0, apart_day=0),
    )
    tables = tables_of(problem)
    rows = [(tables.start_rows, tables.starts.of), (tables.room_rows, np.arange(len(tables.found)))]
    matrix = []
    for table, of in rows:
        for row in range(len(table.most)):
            members = table.members[table.row == row]
            matrix.append((np.isin(of, members).astype(float), table.most[row]))
    for need in range(4):
        matrix.append(((tables.found.need == need).astype(float), 1))
    packed = milp(
        -tables.found.points.astype(float),
        constraints=[(line, -np.inf, most) for line, most in matrix],
        integrality=np.ones(len(tables.found)),
        bounds=(0, 1),
    )
    assert -packed.fun <= value_bound(tables, 10.0)
    assert -packed.fun == pytest.approx(Search(problem).best_value())
