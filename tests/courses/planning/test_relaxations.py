"""One rule let go at a time: each lets the session in where only that rule kept it out."""

from dataclasses import replace

import pytest

from courses.planning.openings import beside, opening
from courses.planning.problem import Head
from courses.planning.relaxations import relaxations
from courses.planning.sentences import utc_words
from tests.courses.planning.schools import BENCH, DAY, MONDAY, a_need, at, hours, one_bench

ADA, NOOR = a_need("n1"), a_need("n2", student="noor")
EVERY_HOUR = [(day, hour) for day in (0, 1) for hour in (9, 10, 11)]


def helps(problem, need, *places):
    """Code and sentence of each relaxation that opens a place."""
    left = beside(problem, places, need)
    every = relaxations(problem, need)
    fits = [(each, opening(each.apply(left))) for each in every]
    return {each.code: each.words(fit, utc_words) for each, fit in fits if fit}


def test_they_come_from_the_cheapest_up():
    costs = [each.cost for each in relaxations(one_bench(), ADA)]
    assert costs == sorted(costs) and len(costs) > 5


@pytest.mark.parametrize(
    ("changes", "code", "sentence"),
    [
        ({"free": ()}, "student_time", "If Ada could come on Mon 15 Jun 09:00 UTC."),
        ({"skills": frozenset()}, "educator_skill", "If Ines could teach this skill: Mon 15 Jun 09:00 UTC."),
        ({"working": ()}, "educator_time", "If Ines worked on Mon 15 Jun 09:00 UTC."),
        ({"open": ()}, "room_time", "If Room A were open on Mon 15 Jun 09:00 UTC."),
        ({"benches": ()}, "bench", "With one more bench in Room A on Mon 15 Jun 09:00 UTC."),
    ],
)
def test_what_is_missing_is_what_helps(changes, code, sentence):
    school = one_bench()
    groups = {"students": school.students[:1], "educators": school.educators, "rooms": school.rooms}
    name = next(iter(changes))
    changed = {
        group: tuple(replace(row, **changes) if hasattr(row, name) else row for row in rows)
        for group, rows in groups.items()
    }
    assert helps(one_bench(**changed), ADA) == {code: sentence}


def test_one_more_head_helps_where_all_have_too_few_layers():
    problem = one_bench(needs=(replace(ADA, layers=2),), heads=(Head("h1", "Head 1", 1),))
    assert helps(problem, problem.needs[0]) == {
        "head": "With one more head of 2 layers on Mon 15 Jun 09:00 UTC."
    }


def test_a_later_beginning_is_let_go():
    need = replace(ADA, earliest=MONDAY + 2 * DAY)
    found = helps(one_bench(needs=(need,)), need)
    assert found == {"earliest": "If it could begin before Wed 17 Jun 00:00 UTC: Mon 15 Jun 09:00 UTC."}


def test_days_apart_are_let_go():
    need = replace(ADA, sessions=2, least_days=2)
    found = helps(one_bench(needs=(need,)), need, at(0, 9))
    assert found == {
        "days_apart": "If sessions of one skill could be less than 2 days apart: Tue 16 Jun 09:00 UTC."
    }


def test_one_more_seat_beside_the_educator_is_let_go():
    room = one_bench().rooms[0]
    roomy = replace(room, benches=(*room.benches, replace(room.benches[0], code="b2")))
    others = tuple(replace(NOOR, code=f"m{nth}", skill=f"s{nth}") for nth in range(6))
    problem = one_bench(
        needs=(ADA, *others),
        rooms=(roomy,),
        heads=(Head("h1", "1", 2), Head("h2", "2", 2)),
        kinds=(replace(BENCH, capacity=1),),
    )
    full = [at(day, hour, need=f"m{nth}") for nth, (day, hour) in enumerate(EVERY_HOUR)]
    found = helps(problem, ADA, *full)
    assert found["capacity"] == "If Ines looked after one student more than 1 on Mon 15 Jun 09:00 UTC."
    assert set(found) == {"capacity"}


def test_the_given_problem_stays_as_it_is():
    problem = one_bench()
    for each in relaxations(problem, ADA):
        each.apply(problem)
    assert problem == one_bench() and problem.students[0].free == (hours(0, 9, 12), hours(1, 9, 12))
