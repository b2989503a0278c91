"""The rota as staff see it: the week, the agenda, one booking."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from courses.models import Booking, WaitingPlace
from courses.services import bookings as services
from courses.services.bookings import book, move_booking
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, Rota, coming, make_rota, place_for


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


@pytest.fixture
def made(cast: Cast, rota: Rota) -> Booking:
    place = place_for(cast, rota, starts_at=coming())
    return book(place=place, actor=cast.ines, live_allowed=False, now=MADE_AT)


def begun(booking: Booking) -> Booking:
    starts = timezone.now() - timedelta(hours=1)
    Booking.objects.filter(pk=booking.pk).update(starts_at=starts, ends_at=starts + timedelta(minutes=90))
    return booking


def of(name: str, booking: Booking) -> str:
    return reverse(f"courses:{name}", args=[booking.uid])


@pytest.mark.parametrize("name", ["rota", "agenda"])
def test_a_booking_is_shown_on_its_day(cast: Cast, made: Booking, client_for, name: str):
    page = client_for(cast.ines).get(reverse(f"courses:{name}"), {"day": made.starts_at.date().isoformat()})
    text = page.content.decode()
    assert "Ada Marsh" in text and "10:00–11:30" in text
    assert of("booking", made) in text


@pytest.mark.parametrize("name", ["rota", "agenda"])
@pytest.mark.parametrize("day", ["", "soon", "2026-02-30", "0001-01-01", "9999-12-31"])
def test_a_day_that_cannot_be_shown_is_today(cast: Cast, rota: Rota, client_for, name: str, day: str):
    page = client_for(cast.ines).get(reverse(f"courses:{name}"), {"day": day})
    assert page.status_code == 200
    days = page.context["week" if name == "rota" else "agenda"]
    assert days.first_on <= timezone.now().date() <= days.last_on


def test_an_academy_without_hours_says_who_enters_them(cast: Cast, client_for):
    setup = reverse("courses:rota-setup")
    assert setup in client_for(cast.owner).get(reverse("courses:rota")).content.decode()
    page = client_for(cast.ines).get(reverse("courses:rota")).content.decode()
    assert "Ask the owner" in page and setup not in page


def test_who_waits_is_named(cast: Cast, rota: Rota, client_for):
    day = coming().date()
    WaitingPlace.objects.create(
        student=cast.bea, kind=rota.group, first_on=day, last_on=day, asked_at=timezone.now()
    )
    page = client_for(cast.ines).get(reverse("courses:rota")).content.decode()
    assert "Waiting for a place" in page and "Bea Holm" in page


def test_a_cancellation_is_asked_for_with_its_reason(cast: Cast, made: Booking, client_for):
    client = client_for(cast.ines)
    assert "is offered to the first who waits" in client.get(of("booking-cancel", made)).content.decode()
    answer = client.post(of("booking-cancel", made), {"seen": 0, "reason": "The boiler is out"})
    assert answer["Location"] == reverse("courses:rota")
    page = client.get(of("booking", made)).content.decode()
    assert "The boiler is out" in page and "cancelled" in page
    assert of("booking-cancel", made) not in page


def test_a_stale_page_cancels_nothing_and_keeps_the_reason(cast: Cast, rota: Rota, made: Booking, client_for):
    there = place_for(cast, rota, starts_at=coming() + timedelta(hours=2))
    move_booking(booking=made, place=there, actor=cast.second, seen=0, live_allowed=False, now=MADE_AT)
    page = client_for(cast.ines).post(of("booking-cancel", made), {"seen": 0, "reason": "The boiler is out"})
    text = page.content.decode()
    assert "Somebody changed this booking meanwhile" in text and "The boiler is out" in text
    made.refresh_from_db()
    assert made.state == "accepted"


@pytest.mark.parametrize("seen", ["", "-1", "two", "9" * 5000])
def test_a_page_that_was_tampered_with_cancels_nothing(cast: Cast, made: Booking, client_for, seen: str):
    assert client_for(cast.ines).post(of("booking-cancel", made), {"seen": seen}).status_code == 200
    made.refresh_from_db()
    assert made.state == "accepted"


def test_who_came_is_said_once_it_has_begun(cast: Cast, made: Booking, client_for):
    client = client_for(cast.ines)
    assert "Did not come" not in client.get(of("booking", made)).content.decode()
    early = client.post(of("booking-came", made), {"came": "yes"}, follow=True).content.decode()
    assert "has not begun" in early
    begun(made)
    for came, state in (("no", "missed"), ("yes", "attended")):
        client.post(of("booking-came", made), {"came": came})
        made.refresh_from_db()
        assert made.state == state


def test_one_booking_tells_its_whole_story(cast: Cast, rota: Rota, made: Booking, client_for):
    there: dict[str, Any] = {"starts_at": coming() + timedelta(hours=2)}
    move_booking(
        booking=made,
        place=place_for(cast, rota, **there),
        actor=cast.second,
        seen=0,
        live_allowed=False,
        now=coming() - timedelta(hours=50),
        reason="Ines is away",
    )
    text = client_for(cast.ines).get(of("booking", made)).content.decode()
    assert all(
        words in text for words in ("Made", "Moved", "Tova Lind", "Ines is away", "50 hours of notice")
    )
