from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from courses.models import Booking, ClosedDay
from courses.selectors.rota_week import monday_of, rota_days
from courses.services import bookings as services
from courses.services.bookings import book
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, TEN, Rota, later, make_rota, place_for

MONDAY = TEN.date()


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


def booked(cast: Cast, rota: Rota, **changes: Any) -> Booking:
    return book(place=place_for(cast, rota, **changes), actor=cast.ines, live_allowed=False, now=MADE_AT)


@pytest.mark.parametrize("day", [date(2026, 3, 9), date(2026, 3, 12), date(2026, 3, 15)])
def test_a_week_begins_on_its_monday(day: date):
    assert monday_of(day) == MONDAY


def test_bookings_lie_on_their_days_in_order_of_time(cast: Cast, rota: Rota):
    late, early = booked(cast, rota, starts_at=later(2)), booked(cast, rota)
    tuesday = booked(cast, rota, starts_at=later(24))
    week = rota_days(cast.academy, MONDAY, 7, now=TEN)
    assert [list(day.bookings) for day in week.days[:3]] == [[early, late], [tuesday], []]
    assert (week.count, week.benches, week.first_on, week.last_on) == (3, 2, MONDAY, date(2026, 3, 15))
    assert [day.on for day in week.busy] == [MONDAY, date(2026, 3, 10)]
    assert [day.on for day in week.days if day.is_today] == [MONDAY]


def test_a_usual_day_off_is_left_out_and_a_closed_day_says_why(cast: Cast, rota: Rota):
    ClosedDay.objects.create(academy=cast.academy, on=MONDAY, reason="Holiday")
    week = rota_days(cast.academy, MONDAY, 7, now=TEN)
    assert [day.on.weekday() for day in week.shown] == [0, 1, 2, 3, 4]
    assert (week.days[0].closed, week.days[0].is_open) == ("Holiday", False)


def test_a_booking_on_a_day_off_is_still_shown(cast: Cast, rota: Rota):
    made = booked(cast, rota)
    Booking.objects.filter(pk=made.pk).update(
        starts_at=made.starts_at + timedelta(days=5), ends_at=made.ends_at + timedelta(days=5)
    )
    assert 5 in [day.on.weekday() for day in rota_days(cast.academy, MONDAY, 7, now=TEN).shown]


def test_days_are_those_of_the_academy(cast: Cast, rota: Rota):
    """01:30 in UTC on Tuesday is 21:30 on Monday in New York (15 U.S.C. 260a: summer time from 8 March)."""
    made = booked(cast, rota)
    night = datetime(2026, 3, 10, 1, 30, tzinfo=UTC)
    Booking.objects.filter(pk=made.pk).update(starts_at=night, ends_at=night + timedelta(hours=1))
    cast.academy.time_zone = "America/New_York"
    week = rota_days(cast.academy, MONDAY, 7, now=night)
    assert [len(day.bookings) for day in week.days] == [1, 0, 0, 0, 0, 0, 0]
    assert [day.on for day in week.days if day.is_today] == [MONDAY]


def test_the_price_is_flat(cast: Cast, rota: Rota, django_assert_num_queries):
    for hours in (0, 2, 4):
        booked(cast, rota, starts_at=later(hours))
    with django_assert_num_queries(5):
        rota_days(cast.academy, MONDAY, 7, now=TEN)
