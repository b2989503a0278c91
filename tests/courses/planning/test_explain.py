"""Reasons that can be checked: of a place, of a need without one, and of the change that would let it in."""

from dataclasses import replace

import pytest

from courses.planning.explain import BLOCKERS, reasons, unplaced
from courses.planning.problem import Bench, Head
from courses.planning.solver import solve
from tests.courses.planning.schools import (
    DAY,
    MONDAY,
    a_need,
    at,
    booking,
    hours,
    one_bench,
    plan_of,
    school,
)

ADA, NOOR = a_need("n1"), a_need("n2", student="noor")


def said(problem, *places):
    return [" ".join(each.sentences) for each in reasons(problem, plan_of(*places))]


def test_a_place_says_its_due_date_and_its_choice():
    # Due on the 22nd, seven days after the 15th; six starts suit, none before the first.
    assert said(one_bench(), at(0, 9)) == [
        "7 days before it is due. One of 6 starts that suit; the earliest still free."
    ]


def test_a_later_place_says_what_was_free_before_it():
    assert "One of 6 starts that suit; 4 earlier ones still free." in said(one_bench(), at(1, 10))[0]


def test_a_late_place_says_how_late():
    [sentence] = said(one_bench(needs=(replace(ADA, due=MONDAY),)), at(1, 9))
    assert sentence.startswith("1 day late: no better place was found before it is due.")


def test_the_only_start_says_so():
    student = replace(one_bench().students[0], free=(hours(0, 9, 10),))
    assert "The only start at which" in said(one_bench(students=(student,)), at(0, 9))[0]


def test_company_and_days_between_are_named():
    problem = one_bench(needs=(replace(ADA, sessions=2, least_days=1), NOOR))
    first, second, _ = said(problem, at(0, 9), at(1, 9), at(0, 9, need="n2", bench="b2"))
    assert first.endswith("On the same drill together with Noor.")
    assert second.endswith("1 day after the session of this skill before it.")


def test_a_booking_that_stays_says_so_and_one_that_moves_says_why():
    problem = one_bench(booked=(booking(0, 9),))
    assert said(problem, at(0, 9, booked="b1"))[0].startswith("It stays where it is booked.")
    away = one_bench(booked=(booking(2, 9, student="ada"),))
    assert said(away, at(0, 9, booked="b1"))[0].startswith(
        "It moves from Wed 17 Jun 09:00 UTC. Ada is not free then."
    )


def why_not(problem, *places):
    [found] = unplaced(problem, plan_of(*places))
    return found


@pytest.mark.parametrize(
    ("changes", "blocker", "remedy"),
    [
        ({"needs": (replace(ADA, skill="placement"),)}, "skill", "educator_skill"),
        ({"needs": (replace(ADA, layers=3),)}, "head", "head"),
        ({"needs": (replace(ADA, earliest=MONDAY + 2 * DAY),)}, "student", "earliest"),
        ({"needs": (replace(ADA, earliest=MONDAY + 7 * DAY),)}, "time", "earliest"),
        ({"students": (replace(one_bench().students[0], free=()),)}, "student", "student_time"),
        ({"educators": (replace(one_bench().educators[0], working=()),)}, "educator", "educator_time"),
        ({"rooms": (replace(one_bench().rooms[0], open=()),)}, "room", "room_time"),
    ],
)
def test_the_one_thing_missing_is_named_and_so_is_the_remedy(changes, blocker, remedy):
    found = why_not(one_bench(**changes))
    assert (found.need, found.missing, found.blocker) == ("n1", 1, blocker)
    assert found.remedies[0].code == remedy
    assert BLOCKERS[blocker] in found.sentence and found.sentence.startswith(
        "Ada: 1 session without a place."
    )


def test_what_fits_but_is_not_worth_it_says_so():
    assert why_not(one_bench()).blocker == "worth"


def full_house():
    """Noor's sessions fill the only bench."""
    needs = tuple(replace(NOOR, code=f"m{nth}", skill=f"s{nth}") for nth in range(6))
    places = [at(nth // 3, 9 + nth % 3, need=f"m{nth}") for nth in range(6)]
    heads = (*one_bench().heads, Head("h2", "Head 2", 2))
    skills = frozenset({ADA.skill, *(each.skill for each in needs)})
    ines = replace(one_bench().educators[0], skills=skills)
    return one_bench(needs=(ADA, *needs), heads=heads, educators=(ines,)), places


def test_other_sessions_in_the_way_are_counted():
    problem, places = full_house()
    found = why_not(problem, *places)
    assert found.blocker == "room" and "That shuts 6 of the 6 starts that would suit." in found.sentence
    assert [each.code for each in found.remedies] == ["bench"]


def test_the_remedy_lets_the_session_in():
    problem, places = full_house()
    more = replace(problem.rooms[0], benches=(*problem.rooms[0].benches, Bench("b2", "Bench 2")))
    after = solve(replace(problem, rooms=(more,)), time_limit_s=5, seed=1)
    assert len(after.places) == len(places) + 1


def test_a_remedy_may_need_others_to_move():
    # Ines has one hour, one seat and one bench, and Ada has them; Noor can only come then. More hours for
    # Ines are of no use to Noor until Ada, who can come later, makes way.
    hour, day = hours(0, 9, 10), hours(0, 9, 12)
    school = one_bench()
    problem = one_bench(
        needs=(ADA, NOOR),
        students=(replace(school.students[0], free=(day,)), replace(school.students[1], free=(hour,))),
        educators=(replace(school.educators[0], working=(hour,)),),
        rooms=(replace(school.rooms[0], open=(day,)),),
        kinds=(replace(school.kinds[0], capacity=1),),
    )
    found = why_not(problem, at(0, 9))
    assert [(each.code, each.moves_others) for each in found.remedies] == [("educator_time", True)]
    assert found.remedies[0].sentence.endswith("Others would have to move as well.")


def test_a_whole_school_is_explained():
    problem = school(seed=1, weeks=2, needs=30, benches=6, rooms=1, educators=2)
    plan = solve(problem, time_limit_s=20, seed=1)
    assert [each.place for each in reasons(problem, plan)] == list(plan.places)
    found = unplaced(problem, plan)
    assert sum(each.missing for each in found) == sum(problem.to_place.values()) - len(plan.places) > 0
    for each in found:
        assert each.blocker in BLOCKERS and len(each.remedies) <= 3
        assert each.sentence.endswith(".") and all(remedy.sentence.endswith(".") for remedy in each.remedies)
        assert [remedy.cost for remedy in each.remedies] == sorted(remedy.cost for remedy in each.remedies)
