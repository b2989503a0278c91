from datetime import timedelta
from typing import Any

import pytest

from courses.selectors.feeds import feed_entries
from courses.services import bookings as services
from courses.services.bookings import accept_booking, book, cancel_booking, move_booking, propose_booking
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, TEN, Rota, later, make_rota, place_for

NOW = MADE_AT
MADE: dict[str, Any] = {"live_allowed": False, "now": NOW}


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch):
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)


def test_both_see_the_booking_as_one_entry_that_names_neither(cast: Cast, rota: Rota):
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    (hers,), (educators) = feed_entries(cast.ada, NOW), feed_entries(cast.ines, NOW)
    assert [hers] == educators
    assert hers.uid.startswith(str(made.uid))
    assert not {"Ada", "Marsh", "Ines"} & set(hers.summary.split())
    assert feed_entries(cast.bea, NOW) == feed_entries(cast.omar, NOW) == []


def test_a_proposed_booking_is_not_in_the_calendar_until_it_is_accepted(cast: Cast, rota: Rota):
    made = propose_booking(place=place_for(cast, rota), actor=cast.ines, **MADE)
    assert feed_entries(cast.ada, NOW) == []
    accept_booking(booking=made, actor=cast.ada, seen=0, now=NOW)
    assert len(feed_entries(cast.ada, NOW)) == 1


def test_a_move_keeps_the_uid_and_raises_the_sequence(cast: Cast, rota: Rota):
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    (before,) = feed_entries(cast.ada, NOW)
    there = place_for(cast, rota, starts_at=later(2))
    at = NOW + timedelta(hours=1)
    move_booking(booking=made, place=there, actor=cast.ines, seen=0, live_allowed=False, now=at)
    (after,) = feed_entries(cast.ada, NOW)
    assert (after.uid, after.sequence, after.starts, after.stamped) == (before.uid, 1, later(2), at)


def test_a_cancelled_booking_stays_for_more_than_thirty_days(cast: Cast, rota: Rota):
    """RFC 5545 readers drop what is missing at once, those offline for a month must still learn of it."""
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    cancel_booking(booking=made, actor=cast.ines, seen=0, now=NOW)
    (entry,) = feed_entries(cast.ada, NOW + timedelta(days=31))
    assert entry.is_cancelled
    assert feed_entries(cast.ada, NOW + timedelta(days=61)) == []


def test_what_was_declined_before_it_was_settled_is_nobodys_appointment(cast: Cast, rota: Rota):
    made = propose_booking(place=place_for(cast, rota), actor=cast.ines, **MADE)
    cancel_booking(booking=made, actor=cast.ada, seen=0, now=NOW)
    assert feed_entries(cast.ada, NOW) == []


def test_the_price_is_one_query_for_any_number(cast: Cast, rota: Rota, django_assert_num_queries):
    for hours in (0, 2, 4):
        book(place=place_for(cast, rota, starts_at=TEN + timedelta(hours=hours)), actor=cast.ines, **MADE)
    with django_assert_num_queries(1):
        assert len(feed_entries(cast.ada, NOW)) == 3
