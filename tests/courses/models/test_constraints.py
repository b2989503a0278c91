"""The last line of defence of the rota: what the database itself refuses of places, hours and bookings."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, time
from uuid import uuid4

import pytest
from django.db import connection

from courses.models import (
    Bench,
    Booking,
    BookingChange,
    BookingLetter,
    CalendarFeed,
    Claim,
    ClosedDay,
    FreeException,
    FreeHours,
    OpeningHours,
    ProposalLine,
    Room,
    RotaProposal,
    RotaRules,
    SessionKind,
    TaughtSkill,
    TimeAway,
    WaitingPlace,
    WorkingHours,
)
from courses.services.bookings import book
from courses.services.feeds import renew_feed
from tests.assessments.models.constraints import again, bitten, change, first
from tests.factories.academy import Cast
from tests.factories.plans import make_plan
from tests.factories.rota import MADE_AT, make_free, make_rota, place_for

MODELS = (
    *(Room, Bench, OpeningHours, WorkingHours, FreeHours, ClosedDay, TimeAway, FreeException, TaughtSkill),
    *(SessionKind, RotaRules, Booking, Claim, BookingChange, WaitingPlace, RotaProposal, ProposalLine),
    *(CalendarFeed, BookingLetter),
)
DAY = date(2026, 3, 9)


@dataclass(frozen=True, slots=True)
class World:
    """One booking with its claims, change and letter; a plan being computed; one row of all the rest."""

    booking: Booking
    plan: RotaProposal


@pytest.fixture
def world(cast: Cast, monkeypatch) -> World:
    rota = make_rota(cast)
    make_free(cast.ada, 0)
    ClosedDay.objects.create(academy=cast.academy, on=DAY)
    TimeAway.objects.create(educator=cast.ines, first_on=DAY, last_on=DAY)
    FreeException.objects.create(student=cast.ada, on=DAY, starts=time(9), ends=time(12))
    RotaRules.objects.create(academy=cast.academy)
    ClosedDay.objects.filter(on=DAY).update(on=date(2026, 4, 6))
    TimeAway.objects.update(first_on=date(2026, 4, 6), last_on=date(2026, 4, 7))
    booking = book(place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=MADE_AT)
    made = BookingChange.objects.get()
    BookingLetter.objects.create(change=made, member=cast.ada, at=MADE_AT)
    WaitingPlace.objects.create(
        student=cast.ada, kind=rota.group, first_on=DAY, last_on=DAY, asked_at=MADE_AT
    )
    plan = make_plan(cast.ines, state="computing")
    ProposalLine.objects.create(proposal=plan, position=0, change="new", student=cast.ada)
    renew_feed(member=cast.ada, now=MADE_AT)
    return World(booking, plan)


def weekly(model: type[OpeningHours] | type[WorkingHours] | type[FreeHours]) -> list[Callable[[World], None]]:
    return [
        lambda w: change(first(model), ends=time(9)),
        lambda w: change(first(model), ends=time(8)),
    ]


CASES: dict[str, list[Callable[[World], None]]] = {
    "room_name_once_per_academy": [lambda w: again(first(Room), name="FRONT ROOM")],
    "bench_name_once_per_room": [lambda w: again(first(Bench, name="Bench 1"), name="BENCH 1")],
    "openinghours_known_weekday": [lambda w: change(first(OpeningHours), weekday=7)],
    "openinghours_ends_after_start": weekly(OpeningHours),
    "opening_hours_start_once": [lambda w: again(first(OpeningHours))],
    "workinghours_known_weekday": [lambda w: change(first(WorkingHours), weekday=7)],
    "workinghours_ends_after_start": weekly(WorkingHours),
    "working_hours_start_once": [lambda w: again(first(WorkingHours))],
    "freehours_known_weekday": [lambda w: change(first(FreeHours), weekday=7)],
    "freehours_ends_after_start": weekly(FreeHours),
    "free_hours_start_once": [lambda w: again(first(FreeHours))],
    "closed_day_once": [lambda w: again(first(ClosedDay))],
    "time_away_ends_after_start": [lambda w: change(first(TimeAway), last_on=date(2026, 4, 5))],
    "time_away_start_once": [lambda w: again(first(TimeAway))],
    "free_exception_once_a_day": [lambda w: again(first(FreeException))],
    "free_exception_ends_after_start": [
        lambda w: change(first(FreeException), ends=time(9)),
        lambda w: change(first(FreeException), ends=None),
        lambda w: change(first(FreeException), starts=None),
    ],
    "taught_skill_once": [lambda w: again(first(TaughtSkill))],
    "session_kind_name_once_per_academy": [
        lambda w: again(first(SessionKind, name="Group drill"), name="GROUP DRILL")
    ],
    "session_kind_known_form": [lambda w: change(first(SessionKind), form="party")],
    "session_kind_minutes": [
        lambda w: change(first(SessionKind), minutes=14),
        lambda w: change(first(SessionKind), minutes=601),
    ],
    "session_kind_capacity": [
        lambda w: change(first(SessionKind), capacity=0),
        lambda w: change(first(SessionKind), capacity=41),
    ],
    "rota_rules_spacing_range": [lambda w: change(first(RotaRules), spacing_days_low=8)],
    "booking_ends_after_start": [lambda w: change(w.booking, ends_at=w.booking.starts_at)],
    "booking_known_state": [lambda w: change(w.booking, state="lost")],
    "claim_held_once": [
        lambda w, what=what: again(first(Claim, what=what))  # type: ignore[misc]
        for what in ("bench", "student", "educator")
    ],
    "claim_known_what": [lambda w: change(first(Claim), what="chair")],
    "booking_change_known_kind": [lambda w: change(first(BookingChange), kind="forgotten")],
    "waiting_ends_after_start": [lambda w: change(first(WaitingPlace), last_on=date(2026, 3, 8))],
    "waiting_once_per_kind": [lambda w: again(first(WaitingPlace))],
    "proposal_known_state": [lambda w: change(w.plan, state="lost")],
    "proposal_progress_per_cent": [lambda w: change(w.plan, progress=101)],
    "proposal_ends_after_start": [lambda w: change(w.plan, last_on=date(2026, 3, 1))],
    "proposal_one_at_a_time": [
        lambda w: again(w.plan, uid=uuid4()),
        lambda w: again(w.plan, uid=uuid4(), state="queued"),
    ],
    "proposal_line_position_once": [lambda w: again(first(ProposalLine))],
    "proposal_line_known_change": [lambda w: change(first(ProposalLine), change="better")],
    "proposal_line_known_state": [lambda w: change(first(ProposalLine), state="lost")],
    "calendar_feed_one_open": [lambda w: again(first(CalendarFeed), token_digest="x" * 64)],
    "booking_letter_once": [lambda w: again(first(BookingLetter))],
}


def test_every_constraint_bites_by_its_own_name(world: World):
    answers = {name: [bitten(attempt, world) for attempt in attempts] for name, attempts in CASES.items()}
    assert [name for name, said in answers.items() if not all(said)] == []
    if connection.vendor == "postgresql":
        assert {name: said for name, said in answers.items() if set(said) != {name}} == {}


def test_fields_that_are_unique_alone_bite(world: World):
    assert "uid" in bitten(lambda w: again(w.booking), world)
    assert "uid" in bitten(lambda w: again(w.plan, state="ready"), world)
    digest = bitten(lambda w: again(first(CalendarFeed), revoked_at=MADE_AT), world)
    assert "token_digest" in digest
    assert "academy" in bitten(lambda w: again(first(RotaRules)), world)


def test_two_seats_of_one_educator_stand_beside_each_other(world: World):
    assert bitten(lambda w: again(first(Claim, what="educator"), seat=1), world) == ""


def test_no_constraint_of_these_models_is_left_untried():
    assert {each.name for model in MODELS for each in model._meta.constraints} == set(CASES)
