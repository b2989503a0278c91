from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from academy.errors import NotHere
from courses.models import Booking, WaitingPlace
from courses.selectors.bookings import (
    booking,
    bookings_between,
    open_bookings_of,
    own_booking,
    own_wait,
    past_bookings_of,
    waiting_places,
    waits_to_come,
)
from courses.services import bookings as services
from courses.services.bookings import book, cancel_booking, mark_missed, propose_booking
from tests.factories.academy import Cast, make_member
from tests.factories.rota import MADE_AT, TEN, Rota, later, make_rota, place_for

MADE: dict[str, Any] = {"live_allowed": False, "now": MADE_AT}


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


def booked(cast: Cast, rota: Rota, **changes: Any) -> Booking:
    return book(place=place_for(cast, rota, **changes), actor=cast.ines, **MADE)


def test_a_booking_is_found_in_its_own_academy_only(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    assert booking(cast.academy, made.uid) == made
    for academy, uid in ((cast.other_academy, made.uid), (cast.academy, uuid4())):
        with pytest.raises(NotHere):
            booking(academy, uid)


def test_a_student_finds_only_her_own(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    assert own_booking(cast.ada, made.uid) == made
    with pytest.raises(NotHere):
        own_booking(cast.bea, made.uid)


def test_what_touches_the_span_is_found_and_what_is_cancelled_is_not(cast: Cast, rota: Rota):
    first, second = booked(cast, rota), booked(cast, rota, starts_at=later(2))
    cancelled = booked(cast, rota, starts_at=later(4))
    cancel_booking(booking=cancelled, actor=cast.ines, seen=0, now=MADE_AT)
    assert list(bookings_between(cast.academy, TEN, later(6))) == [first, second]
    assert list(bookings_between(cast.academy, later(1), later(2))) == [first]
    assert list(bookings_between(cast.academy, later(1.5), later(2))) == []  # one ends as the span begins


def test_coming_and_past_share_nothing_but_miss_nothing(cast: Cast, rota: Rota):
    early, late = booked(cast, rota), booked(cast, rota, starts_at=later(4))
    proposed = propose_booking(place=place_for(cast, rota, starts_at=later(2)), actor=cast.ines, **MADE)
    cancelled = booked(cast, rota, starts_at=later(5.5))
    cancel_booking(booking=cancelled, actor=cast.ines, seen=0, now=MADE_AT)
    mark_missed(booking=early, actor=cast.ines, now=later(1))
    now = later(1.5)
    assert list(open_bookings_of(cast.ada, now)) == [proposed, late]
    assert list(past_bookings_of(cast.ada, now)) == [cancelled, early]


def wait(student, rota: Rota, **changes: Any) -> WaitingPlace:
    day = TEN.date()
    given = {"kind": rota.group, "first_on": day, "last_on": day, "asked_at": MADE_AT}
    return WaitingPlace.objects.create(student=student, **(given | changes))


def test_who_asked_first_stands_first(cast: Cast, rota: Rota):
    second = wait(cast.ada, rota, asked_at=MADE_AT + timedelta(hours=1))
    first = wait(cast.bea, rota)
    wait(cast.bea, rota, kind=rota.supervised, closed_at=MADE_AT)
    gone = make_member(cast.academy, "Cleo Marsh")
    wait(gone, rota)
    gone.left_at = MADE_AT
    gone.save()
    assert list(waiting_places(cast.academy)) == [first, second]
    assert not waiting_places(cast.other_academy)


def test_a_wait_that_is_over_is_not_shown(cast: Cast, rota: Rota):
    shown = wait(cast.ada, rota)
    wait(cast.ada, rota, kind=rota.supervised, offered=booked(cast, rota))
    today = TEN.date()
    assert list(waits_to_come(cast.academy, today)) == [shown]
    assert not waits_to_come(cast.academy, today + timedelta(days=1))


def test_an_offer_that_is_not_answered_leaves_the_wait_shown(cast: Cast, rota: Rota):
    offered = propose_booking(place=place_for(cast, rota), actor=cast.ines, **MADE)
    shown = wait(cast.ada, rota, offered=offered)
    assert list(waits_to_come(cast.academy, TEN.date())) == [shown]


def test_a_wait_is_found_by_whose_it_is(cast: Cast, rota: Rota):
    made = wait(cast.ada, rota)
    assert own_wait(cast.ada, made.pk) == made
    with pytest.raises(NotHere):
        own_wait(cast.bea, made.pk)
