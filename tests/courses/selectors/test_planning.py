from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from academy.errors import NotHere
from courses.models import Bench, FreeException, Skill
from courses.selectors.planning import Asked, gather, instant, minutes, proposal
from courses.services.bookings import cancel_booking, propose_booking
from tests.factories.academy import Cast
from tests.factories.courses import make_head
from tests.factories.plans import make_plan
from tests.factories.rota import MADE_AT, TEN, Rota, make_free, make_rota, place_for

FIRST, LAST = date(2026, 3, 9), date(2026, 3, 15)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


def asked_for(cast: Cast, rota: Rota, **changes: object) -> Asked:
    skill = Skill.objects.get(code="isolation")
    given: dict[str, Any] = {
        "need": 7,
        "student": cast.ada.pk,
        "skill": skill.pk,
        "drill": None,
        "kind": rota.supervised.pk,
        "priority": 4,
        "due_on": date(2026, 3, 12),
        **changes,
    }
    return Asked(**given)


def found(cast: Cast, asked, now=MADE_AT):
    return gather(cast.academy, asked, FIRST, LAST, now=now)


def test_minutes_and_instants_are_each_others_inverse():
    assert instant(minutes(TEN)) == TEN
    assert minutes(datetime(1970, 1, 1, tzinfo=UTC)) == 0


def test_the_need_is_due_at_the_end_of_its_day_and_freezes_for_the_notice(cast: Cast, rota: Rota):
    problem = found(cast, [asked_for(cast, rota)]).problem
    (need,) = problem.needs
    assert need.due == minutes(datetime(2026, 3, 13, tzinfo=UTC))
    assert (need.length_min, need.priority, need.least_days, need.most_days) == (90, 4, 2, 7)
    assert problem.frozen_until == minutes(MADE_AT + timedelta(hours=48))


@pytest.mark.parametrize(
    ("zone", "first", "hours"),
    [
        ("Europe/Lisbon", date(2026, 3, 28), [24, 23, 24]),
        ("Europe/Lisbon", date(2026, 10, 24), [24, 25, 24]),
        ("America/New_York", date(2026, 3, 7), [24, 23, 24]),
        ("America/New_York", date(2026, 10, 31), [24, 25, 24]),
    ],
)
def test_a_day_on_which_clocks_change_has_its_own_length(cast: Cast, rota: Rota, zone, first, hours):
    """Clocks change on 29 March and 25 October 2026 in Portugal, 8 March and 1 November in New York: the time
    zone database of IANA."""
    cast.academy.time_zone = zone
    cast.academy.save()
    days = gather(cast.academy, [], first, first + timedelta(days=2), now=MADE_AT).problem.day_starts
    assert [(after - before) // 60 for before, after in pairwise(days)] == hours


def test_a_student_comes_when_she_says_and_otherwise_whenever_it_is_open(cast: Cast, rota: Rota):
    make_free(cast.ada, 0, starts=time(10), ends=time(12))
    FreeException.objects.create(student=cast.ada, on=date(2026, 3, 10), starts=time(9), ends=time(11))
    gathered = found(cast, [asked_for(cast, rota), asked_for(cast, rota, need=8, student=cast.bea.pk)])
    free = {each.name: each.free for each in gathered.problem.students}
    assert [(span.end - span.start) // 60 for span in free[cast.ada.name]] == [2, 2]
    assert [(span.end - span.start) // 60 for span in free[cast.bea.name]] == [8] * 5
    assert gathered.untold == (cast.bea.name,)


def test_a_held_booking_of_the_need_may_move_and_another_one_stays(cast: Cast, rota: Rota):
    mine = propose_booking(place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=MADE_AT)
    other = place_for(cast, rota, student=cast.bea, bench=rota.benches[1])
    propose_booking(place=other, actor=cast.ines, live_allowed=False, now=MADE_AT)
    problem = found(cast, [asked_for(cast, rota, booking=mine.pk)]).problem
    assert [each.code for each in problem.movable] == [str(mine.pk)]
    assert {each.student for each in problem.frozen} == {str(cast.bea.pk)}


def test_what_is_cancelled_or_retired_is_not_there(cast: Cast, rota: Rota):
    booking = propose_booking(place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=MADE_AT)
    cancel_booking(booking=booking, actor=cast.ines, seen=0, now=MADE_AT)
    Bench.objects.filter(pk=rota.benches[0].pk).update(retired_at=MADE_AT)
    problem = found(cast, []).problem
    assert problem.booked == ()
    assert [bench.code for room in problem.rooms for bench in room.benches] == [str(rota.benches[1].pk)]


def test_a_head_is_asked_for_only_where_there_are_heads(cast: Cast, rota: Rota):
    assert not any(each.needs_head for each in found(cast, []).problem.kinds)
    make_head(cast.academy)
    needing = [each.name for each in found(cast, []).problem.kinds if each.needs_head]
    assert needing == ["Supervised bench"]


def test_nothing_of_another_academy_is_gathered(cast: Cast, rota: Rota):
    problem = gather(cast.other_academy, [], FIRST, LAST, now=MADE_AT).problem
    assert not (problem.students or problem.rooms or problem.kinds or problem.booked)
    plan = make_plan(cast.ines)
    assert proposal(cast.academy, plan.uid) == plan
    with pytest.raises(NotHere):
        proposal(cast.other_academy, plan.uid)


def test_it_costs_as_many_queries_for_many_needs_as_for_one(cast: Cast, rota: Rota):
    def cost(needs):
        with CaptureQueriesContext(connection) as queries:
            found(cast, needs)
        return len(queries)

    one = cost([asked_for(cast, rota)])
    assert cost([asked_for(cast, rota, need=n, student=cast.bea.pk) for n in range(9)]) == one <= 16
