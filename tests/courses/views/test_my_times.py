"""A student's own times: answered, cancelled, waited for."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from courses.models import Booking, WaitingPlace
from courses.services import bookings as services
from courses.services.bookings import book, move_booking, propose_booking
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, Rota, coming, make_rota, place_for

TIMES = reverse("courses:my-times")
MADE: dict[str, Any] = {"live_allowed": False, "now": MADE_AT}


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


@pytest.fixture
def proposed(cast: Cast, rota: Rota) -> Booking:
    return propose_booking(place=place_for(cast, rota, starts_at=coming()), actor=cast.ines, **MADE)


def of(name: str, booking: Booking) -> str:
    return reverse(f"courses:{name}", args=[booking.uid])


def test_a_proposed_time_is_accepted_by_one_press(cast: Cast, proposed: Booking, client_for):
    client = client_for(cast.ada)
    assert "proposed: please answer" in client.get(TIMES).content.decode()
    answer = client.post(of("my-booking-accept", proposed), {"seen": 0}, follow=True)
    assert "Accepted." in answer.content.decode()
    proposed.refresh_from_db()
    assert proposed.state == "accepted"


@pytest.mark.parametrize("seen", ["0", "", "x"])
def test_nobody_accepts_a_time_she_has_not_read(
    cast: Cast, rota: Rota, proposed: Booking, client_for, seen: str
):
    there = place_for(cast, rota, starts_at=coming() + timedelta(hours=3))
    move_booking(booking=proposed, place=there, actor=cast.ines, seen=0, **MADE)
    page = client_for(cast.ada).post(of("my-booking-accept", proposed), {"seen": seen}, follow=True)
    assert "Look again before changing it" in page.content.decode()
    proposed.refresh_from_db()
    assert proposed.state == "proposed"


def test_a_proposal_whose_time_has_come_cannot_be_accepted_by_the_student(
    cast: Cast, proposed: Booking, client_for
):
    starts = timezone.now() - timedelta(minutes=5)
    Booking.objects.filter(pk=proposed.pk).update(starts_at=starts, ends_at=starts + timedelta(hours=1))
    page = client_for(cast.ada).post(of("my-booking-accept", proposed), {"seen": 0}, follow=True)
    assert "This time has passed" in page.content.decode()


def test_a_proposed_time_is_declined(cast: Cast, proposed: Booking, client_for):
    client = client_for(cast.ada)
    assert "Decline this time?" in client.get(of("my-booking-cancel", proposed)).content.decode()
    assert client.post(of("my-booking-cancel", proposed), {"seen": 0, "reason": ""})["Location"] == TIMES
    proposed.refresh_from_db()
    assert proposed.state == "cancelled"


def test_within_the_notice_the_page_says_whom_to_ask(cast: Cast, rota: Rota, client_for):
    made = book(place=place_for(cast, rota, starts_at=coming()), actor=cast.ines, **MADE)
    client = client_for(cast.ada)
    assert of("my-booking-cancel", made) in client.get(TIMES).content.decode()
    starts = timezone.now() + timedelta(hours=47)
    Booking.objects.filter(pk=made.pk).update(starts_at=starts, ends_at=starts + timedelta(hours=1))
    text = client.get(TIMES).content.decode()
    assert "Fewer than 48 hours are left" in text and of("my-booking-cancel", made) not in text
    refused = client.post(of("my-booking-cancel", made), {"seen": 0, "reason": "A train strike"})
    assert "Changes need 48 hours of notice" in refused.content.decode()
    assert "A train strike" in refused.content.decode()


def test_another_students_booking_is_not_here(cast: Cast, proposed: Booking, client_for):
    client = client_for(cast.bea)
    assert client.post(of("my-booking-accept", proposed), {"seen": 0}).status_code == 404
    assert client.get(of("my-booking-cancel", proposed)).status_code == 404
    assert "No time is booked" in client.get(TIMES).content.decode()


def test_a_student_waits_for_a_place_and_stops(cast: Cast, rota: Rota, client_for):
    client, day = client_for(cast.ada), coming().date()
    asked = {"kind": rota.group.pk, "skill": "", "first_on": day, "last_on": day}
    assert client.post(reverse("courses:wait"), asked)["Location"] == TIMES
    assert "On the waiting list" in client.get(TIMES).content.decode()
    again = client.post(reverse("courses:wait"), asked)
    assert "You already wait for a place of this kind" in again.content.decode()
    client.post(reverse("courses:wait-stop", args=[WaitingPlace.objects.get().pk]))
    assert "On the waiting list" not in client.get(TIMES).content.decode()


@pytest.mark.parametrize(
    ("days", "sentence"),
    [
        ((3, 1), "The last day is over, or before the first."),
        ((-9, -8), "The last day is over, or before the first."),
        ((1, 9000), "Places are given up to 56 days ahead."),
    ],
)
def test_a_refused_wait_keeps_what_was_typed(cast: Cast, rota: Rota, client_for, days, sentence):
    first, last = ((timezone.now() + timedelta(days=n)).date().isoformat() for n in days)
    asked = {"kind": rota.group.pk, "skill": "", "first_on": first, "last_on": last}
    page = client_for(cast.ada).post(reverse("courses:wait"), asked)
    assert sentence in page.content.decode()
    assert page.context["form"]["last_on"].value() == last
    assert not WaitingPlace.objects.exists()


def test_nobody_waits_for_a_live_model_day(cast: Cast, rota: Rota, client_for):
    day = coming().date()
    asked = {"kind": rota.live.pk, "skill": "", "first_on": day, "last_on": day}
    assert client_for(cast.ada).post(reverse("courses:wait"), asked).status_code == 200
    assert not WaitingPlace.objects.exists()
