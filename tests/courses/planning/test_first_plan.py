"""The plan without a solver: it keeps every rule and serves the urgent first."""

import pytest

from courses.planning.constraints import violations
from courses.planning.first_plan import first_plan
from courses.planning.placing import named_places, places_of, seat
from courses.planning.tables import tables_of
from tests.courses.planning.schools import DAY, MONDAY, a_need, booking, one_bench, plan_of, school
from tests.courses.planning.small_cases import small_case


@pytest.mark.parametrize("seed", range(60))
def test_it_keeps_every_rule(seed):
    tables = tables_of(small_case(seed))
    taken, _ = seat(tables, first_plan(tables))
    assert violations(tables.problem, plan_of(*named_places(tables, taken))) == ()


def test_on_a_large_problem_it_keeps_every_rule_and_places_most():
    problem = school(seed=5, weeks=4, needs=120, benches=12, rooms=2, educators=3)
    tables = tables_of(problem)
    taken, _ = seat(tables, first_plan(tables))
    places = named_places(tables, taken)
    assert violations(problem, plan_of(*places)) == ()
    assert len(places) > 0.8 * sum(problem.to_place.values())


def places(problem):
    tables = tables_of(problem)
    return places_of(tables, first_plan(tables))


def test_the_highest_priority_comes_first_then_the_earliest_due():
    one_hour = {"educators": (one_hour_of(one_bench().educators[0]),)}
    urgent = (a_need("n1", priority=1), a_need("n2", student="noor", priority=2))
    assert [each.need for each in places(one_bench(needs=urgent, **one_hour))] == ["n2"]
    sooner = (a_need("n1"), a_need("n2", student="noor", due=MONDAY + DAY))
    assert [each.need for each in places(one_bench(needs=sooner, **one_hour))] == ["n2"]


def one_hour_of(educator):
    first = educator.working[0]
    hour = type(first)(first.start, first.start + 60)
    return type(educator)(educator.code, educator.name, (hour,), educator.skills)


def test_what_is_booked_stays_before_anything_new():
    needs = (a_need("n1", priority=1), a_need("n2", student="noor", priority=9))
    kept = places(one_bench(needs=needs, booked=(booking(0, 9),)))
    assert [each.need for each in kept if each.booked == "b1"] == ["n1"]
