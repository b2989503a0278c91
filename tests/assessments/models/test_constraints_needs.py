"""The last line of defence of needs and drill counts: every rule of the database bites."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.db import connection

from assessments.models import DrillCount, Grade, Need, NeedBooking, NeedRules
from assessments.services.needs import change_need_rules
from courses.models import Booking
from tests.assessments.models.constraints import again, bitten, change, first
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, make_graded_set
from tests.factories.needs import make_need
from tests.factories.rota import make_times

LATER = STARTED + timedelta(days=1)


@dataclass(frozen=True, slots=True)
class World:
    need: Need
    grade: Grade
    count: DrillCount
    student: int


@pytest.fixture
def world(bench: Bench, cast: Cast) -> World:
    grade = make_graded_set(bench)
    need = make_need(cast.ada, cast.ines)
    assert need.drill
    change_need_rules(academy=cast.academy, rules={"refresher_days": 50}, actor=cast.owner, now=LATER)
    count = DrillCount.objects.create(
        student=cast.ada, drill=need.drill, done=20, clean_count=10, recorded_by=cast.ines, at=LATER
    )
    make_times(cast.ada, cast.ines)
    NeedBooking.objects.create(need=need, booking=Booking.objects.get())
    return World(need, grade, count, cast.ada.pk)


CASES: dict[str, list[Callable[[World], None]]] = {
    "need_rules_number_once": [lambda w: again(first(NeedRules))],
    "drill_count_of_something": [lambda w: change(w.count, done=0, clean_count=0)],
    "drill_count_clean_within_done": [lambda w: change(w.count, clean_count=21)],
    "drill_count_not_by_oneself": [lambda w: change(w.count, recorded_by=w.student)],
    "need_open_once": [lambda w: again(w.need)],
    "need_known_kind": [lambda w: change(w.need, kind="whim", raised_by=None)],
    "need_priority_range": [lambda w: change(w.need, priority=0), lambda w: change(w.need, priority=6)],
    "need_drill_with_count": [
        lambda w: change(w.need, count_target=None),
        lambda w: change(w.need, drill=None),
    ],
    "need_by_hand_names_who": [
        lambda w: change(w.need, raised_by=None),
        lambda w: change(w.need, kind="weak"),
    ],
    "need_closed_by_evidence": [
        lambda w: change(w.need, closed_at=LATER),
        lambda w: change(w.need, closed_at=LATER, closed_by_grade=w.grade, closed_by_count=w.count),
        lambda w: change(w.need, closed_by_grade=w.grade),
        lambda w: change(w.need, closed_by_count=w.count),
    ],
}


def test_every_constraint_bites_by_its_own_name(world: World):
    answers = {name: [bitten(attempt, world) for attempt in attempts] for name, attempts in CASES.items()}
    assert [name for name, said in answers.items() if not all(said)] == []
    if connection.vendor == "postgresql":
        assert {name: said for name, said in answers.items() if set(said) != {name}} == {}


@pytest.mark.parametrize("source", ["grade", "count"])
def test_one_piece_of_evidence_closes(world: World, source: str):
    given = {f"closed_by_{source}": getattr(world, source)}
    assert bitten(lambda w: change(w.need, closed_at=LATER, **given), world) == ""


def test_a_closed_need_leaves_room_for_the_next(world: World):
    change(world.need, closed_at=LATER, closed_by_count=world.count)
    assert bitten(lambda w: again(w.need, closed_at=None, closed_by_count_id=None), world) == ""


def test_a_booking_is_for_one_need(world: World):
    assert bitten(lambda w: again(first(NeedBooking)), world) != ""
