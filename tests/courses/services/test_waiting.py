from datetime import time, timedelta

import pytest
from django.utils import timezone

from courses.models import Booking, OpeningHours, WaitingPlace, WorkingHours
from courses.selectors.bookings import academies_where_somebody_waits
from courses.services import bookings as booking_services
from courses.services.booking_checks import LiveModelsNotYet
from courses.services.bookings import accept_booking, book, cancel_booking
from courses.services.waiting import (
    AlreadyWaiting,
    NoDaysToWait,
    NotYourWait,
    TooLongToWait,
    offer_places,
    stop_waiting,
    wait_for_place,
)
from courses.tasks import offer_all_places
from tests.factories.academy import Cast, make_member
from tests.factories.rota import MADE_AT, TEN, Rota, coming, make_free, make_rota, place_for

NOW = MADE_AT
MONDAY = TEN.date()


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast, benches=1)


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch):
    monkeypatch.setattr(booking_services, "enqueue", lambda *args, **kwargs: None)


def wait(cast: Cast, rota: Rota, student=None, **changes) -> WaitingPlace:
    student = student or cast.bea
    given = {"kind": rota.supervised, "skill": None, "first_on": MONDAY, "last_on": MONDAY, "now": NOW}
    return wait_for_place(student=student, actor=student, **(given | changes))


def full_day(cast: Cast, rota: Rota) -> list[Booking]:
    """The only bench from nine to seventeen, but for the last half hour."""
    return [
        book(
            place=place_for(cast, rota, starts_at=TEN.replace(hour=9) + n * timedelta(minutes=90)),
            actor=cast.ines,
            live_allowed=False,
            now=NOW,
        )
        for n in range(5)
    ]


def test_a_freed_place_goes_to_who_asked_first(cast: Cast, rota: Rota):
    third = make_member(cast.academy, "Cleo Marsh")
    first, *_ = full_day(cast, rota)
    wait(cast, rota, third, now=NOW + timedelta(minutes=5))
    wait(cast, rota, now=NOW)
    assert offer_places(academy=cast.academy, now=NOW) == []
    cancel_booking(booking=first, actor=cast.ines, seen=0, now=NOW)
    (offered,) = offer_places(academy=cast.academy, now=NOW)
    assert (offered.student, offered.state, offered.starts_at) == (cast.bea, "proposed", first.starts_at)


def test_nobody_is_offered_twice_while_an_offer_is_open(cast: Cast, rota: Rota):
    wait(cast, rota)
    assert len(offer_places(academy=cast.academy, now=NOW)) == 1
    assert offer_places(academy=cast.academy, now=NOW) == []


def test_a_declined_offer_is_followed_by_another_time(cast: Cast, rota: Rota):
    wait(cast, rota)
    (offered,) = offer_places(academy=cast.academy, now=NOW)
    cancel_booking(booking=offered, actor=cast.bea, seen=0, now=NOW)
    (other,) = offer_places(academy=cast.academy, now=NOW)
    assert other.starts_at != offered.starts_at


def test_an_accepted_offer_ends_the_wait(cast: Cast, rota: Rota):
    waiting = wait(cast, rota)
    (offered,) = offer_places(academy=cast.academy, now=NOW)
    accept_booking(booking=offered, actor=cast.bea, seen=0, now=NOW)
    assert offer_places(academy=cast.academy, now=NOW) == []
    waiting.refresh_from_db()
    assert waiting.closed_at == NOW


def test_only_times_at_which_she_can_come_are_offered(cast: Cast, rota: Rota):
    make_free(cast.bea, 1)  # Tuesdays
    wait(cast, rota, last_on=MONDAY + timedelta(days=1))
    (offered,) = offer_places(academy=cast.academy, now=NOW)
    assert offered.starts_at.date() == MONDAY + timedelta(days=1)


def test_nothing_that_begins_within_a_day_is_offered(cast: Cast, rota: Rota):
    wait(cast, rota)
    soon = TEN - timedelta(hours=3)
    assert offer_places(academy=cast.academy, now=soon) == []


def test_a_wait_ends_with_its_last_day(cast: Cast, rota: Rota):
    waiting = wait(cast, rota)
    later = TEN + timedelta(days=1)
    assert offer_places(academy=cast.academy, now=later) == []
    waiting.refresh_from_db()
    assert waiting.closed_at == later


def test_one_waits_once_for_a_kind_and_may_stop(cast: Cast, rota: Rota):
    waiting = wait(cast, rota)
    with pytest.raises(AlreadyWaiting, match="supervised bench"):
        wait(cast, rota)
    with pytest.raises(NotYourWait):
        stop_waiting(waiting=waiting, actor=cast.ada, now=NOW)
    stop_waiting(waiting=waiting, actor=cast.bea, now=NOW)
    stop_waiting(waiting=waiting, actor=cast.bea, now=NOW)
    wait(cast, rota)


def test_a_wait_that_is_over_stands_in_nobodys_way(cast: Cast, rota: Rota):
    """Before anything has closed it."""
    old = wait(cast, rota)
    again = wait(cast, rota, last_on=MONDAY + timedelta(days=7), now=TEN + timedelta(days=1))
    old.refresh_from_db()
    assert old.closed_at and not again.closed_at


def test_a_wait_that_cannot_be_is_refused(cast: Cast, rota: Rota):
    with pytest.raises(TooLongToWait, match="56 days"):
        wait(cast, rota, last_on=MONDAY + timedelta(days=60))
    with pytest.raises(NoDaysToWait):
        wait(cast, rota, last_on=MONDAY - timedelta(days=1))
    with pytest.raises(NoDaysToWait):
        wait(cast, rota, now=TEN + timedelta(days=1))
    with pytest.raises(LiveModelsNotYet):
        wait(cast, rota, kind=rota.live)
    with pytest.raises(NotYourWait):
        wait_for_place(
            student=cast.bea,
            actor=cast.ada,
            kind=rota.supervised,
            skill=None,
            first_on=MONDAY,
            last_on=MONDAY,
            now=NOW,
        )


def test_each_night_new_places_are_offered_and_old_waits_end(cast: Cast, rota: Rota):
    """Hours entered for a Saturday make a place that no cancellation has told of."""
    day = coming().date() + timedelta(days=5)
    waiting = wait(cast, rota, first_on=day, last_on=day, now=timezone.now())
    offer_all_places()
    assert not Booking.objects.exists()
    OpeningHours.objects.create(academy=cast.academy, weekday=5, starts=time(9), ends=time(17))
    WorkingHours.objects.create(educator=cast.ines, weekday=5, starts=time(9), ends=time(17))
    offer_all_places()
    assert Booking.objects.get().starts_at.date() == day
    Booking.objects.update(state=Booking.State.ACCEPTED)
    offer_all_places()
    waiting.refresh_from_db()
    assert waiting.closed_at
    assert not academies_where_somebody_waits()
