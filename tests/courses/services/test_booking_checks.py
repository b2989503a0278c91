"""Checks that no other test of bookings reaches."""

from datetime import timedelta

import pytest

from courses.models import Booking
from courses.services.booking_checks import (
    FARTHEST,
    NotYourBooking,
    Place,
    TooFarAhead,
    check_own_change,
    check_place,
    check_self_service,
    notice_hours,
)
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, TEN, Rota, later, make_rota, place_for


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


def test_a_place_ends_when_its_kind_of_session_does(cast: Cast, rota: Rota):
    assert place_for(cast, rota).ends_at == later(1.5)
    assert place_for(cast, rota, kind=rota.live).ends_at == later(4)


def test_nobody_books_years_ahead(cast: Cast, rota: Rota):
    far: Place = place_for(cast, rota, starts_at=MADE_AT + FARTHEST + timedelta(days=1))
    with pytest.raises(TooFarAhead, match="730"):
        check_place(far, live_allowed=False, now=MADE_AT)
    check_place(place_for(cast, rota), live_allowed=False, now=MADE_AT)


def test_staff_book_for_everybody_and_a_student_for_herself(cast: Cast, rota: Rota):
    place = place_for(cast, rota)
    for actor in (cast.owner, cast.second, cast.ada):
        check_self_service(place, actor=actor, holds=False, now=MADE_AT)
    with pytest.raises(NotYourBooking):
        check_self_service(place, actor=cast.bea, holds=False, now=MADE_AT)


def test_a_rule_of_notice_does_not_bind_staff(cast: Cast, rota: Rota):
    booking = Booking(
        academy=cast.academy, student=cast.ada, educator=cast.ines, state="accepted", starts_at=TEN
    )
    check_own_change(booking, actor=cast.second, now=TEN)
    check_own_change(booking, actor=cast.ada, now=TEN - timedelta(hours=48))


@pytest.mark.parametrize(("before", "hours"), [(47.99, 47), (48, 48), (0.5, 0), (0, 0), (-0.1, None)])
def test_notice_is_counted_in_whole_hours_and_ends_with_the_start(before: float, hours: int | None):
    assert notice_hours(Booking(starts_at=TEN), TEN - timedelta(hours=before)) == hours
