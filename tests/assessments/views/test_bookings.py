"""Booking and moving through the page: by staff for everybody, by a student within the rules."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from courses.models import Booking, RotaRules
from courses.services import bookings as services
from courses.services.bookings import book, move_booking
from tests.factories.academy import Cast
from tests.factories.gate import easier, make_open_gate
from tests.factories.rota import MADE_AT, Rota, coming, make_free, make_rota, place_for

NEW, OWN = reverse("assessments:booking-new"), reverse("assessments:my-booking-new")
MADE: dict[str, Any] = {"live_allowed": False, "now": MADE_AT}


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


@pytest.fixture
def made(cast: Cast, rota: Rota) -> Booking:
    place = place_for(cast, rota, starts_at=coming())
    return book(place=place, actor=cast.ines, **MADE)


def asked(rota: Rota, **changes: Any) -> dict[str, Any]:
    return {"kind": rota.supervised.pk, "skill": "", "first_on": coming().date().isoformat()} | changes


def offered(page: str) -> list[dict[str, str]]:
    """What each time on the page would send."""
    forms = re.findall(r'<form method="post">(.*?)</form>', page, flags=re.DOTALL)
    return [dict(re.findall(r'name="(\w+)" value="([^"]*)"', form)) for form in forms]


def press(client: Client, url: str, query: dict[str, Any], nth: int = 0):
    """The n-th of the times that the page offers."""
    chosen = offered(client.get(url, query).content.decode())[nth]
    return client.post(url, chosen, query_params=query, follow=True)


def test_staff_book_a_time_for_a_student(cast: Cast, rota: Rota, client_for):
    page = press(client_for(cast.ines), NEW, asked(rota, student=cast.ada.pk))
    assert page.redirect_chain == [(reverse("courses:rota"), 302)]
    made = Booking.objects.get()
    assert (made.student, made.state, made.made_by) == (cast.ada, "accepted", cast.ines)
    assert made.starts_at == coming().replace(hour=9)


def test_a_student_books_within_her_free_times(cast: Cast, rota: Rota, client_for):
    make_free(cast.ada, 2)  # Wednesdays
    page = press(client_for(cast.ada), OWN, asked(rota))
    assert page.redirect_chain == [(reverse("courses:my-times"), 302)]
    assert Booking.objects.get().starts_at.weekday() == 2


def test_a_time_taken_meanwhile_is_refused_and_what_is_left_is_offered(cast: Cast, rota: Rota, client_for):
    client, query = client_for(cast.ada), asked(rota)
    chosen = offered(client.get(OWN, query).content.decode())[2]
    book(place=place_for(cast, rota, student=cast.bea, starts_at=coming()), actor=cast.ines, **MADE)
    page = client.post(OWN, chosen, query_params=query)
    text = page.content.decode()
    assert "Bench 1 is taken at this time. Choose another bench or another time." in text
    assert offered(text)
    assert not Booking.objects.filter(student=cast.ada).exists()


def test_a_student_books_no_more_than_the_rules_allow(cast: Cast, rota: Rota, made: Booking, client_for):
    RotaRules.objects.create(academy=cast.academy, open_bookings=1)
    page = press(client_for(cast.ada), OWN, asked(rota))
    assert "You already hold 1 booking, the most at a time." in page.content.decode()


def test_a_student_sees_no_time_beyond_the_days_that_may_be_booked(cast: Cast, rota: Rota, client_for):
    RotaRules.objects.create(academy=cast.academy, days_ahead=7)
    far = asked(rota, first_on=(timezone.now() + timedelta(days=30)).date().isoformat())
    page = client_for(cast.ada).get(OWN, far).content.decode()
    assert "That is too far ahead. Times can be booked until" in page and "Later days" not in page
    assert offered(client_for(cast.ines).get(NEW, far | {"student": cast.ada.pk}).content.decode())


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"first_on": "9999-12-31"}, "Choose a day within the next two years."),
        ({"first_on": "soon"}, "This is no day."),
        ({"student": ""}, "Choose one."),
    ],
)
def test_what_cannot_be_asked_for_says_what_to_do(cast: Cast, rota: Rota, client_for, changes, sentence):
    query = asked(rota, student=cast.ada.pk) | changes
    page = client_for(cast.ines).get(NEW, query)
    assert sentence in page.content.decode()
    assert {name: str(page.context["form"][name].value()) for name in query} == {
        name: str(value) for name, value in query.items()
    }


@pytest.mark.parametrize(
    "changes",
    [{"starts_at": ""}, {"starts_at": "soon"}, {"educator": "x"}, {"bench": ""}, {"bench": "9" * 5000}],
)
def test_a_page_that_was_tampered_with_books_nothing(cast: Cast, rota: Rota, client_for, changes):
    client, query = client_for(cast.ada), asked(rota)
    chosen = offered(client.get(OWN, query).content.decode())[0] | changes
    assert client.post(OWN, chosen, query_params=query).status_code == 200
    assert not Booking.objects.exists()


@pytest.mark.parametrize("starts_at", ["0001-01-01T00:00:00+00:00", "9999-12-31T23:45:00+00:00"])
def test_the_ends_of_time_are_refused_in_words(cast: Cast, rota: Rota, client_for, starts_at: str):
    cast.academy.time_zone = "Asia/Tokyo"
    cast.academy.save()
    client, query = client_for(cast.ines), asked(rota, student=cast.ada.pk)
    chosen = {"starts_at": starts_at, "educator": cast.ines.pk, "bench": rota.benches[0].pk}
    assert client.post(NEW, chosen, query_params=query).status_code == 200
    assert not Booking.objects.exists()


def test_a_foreign_educator_or_bench_is_not_here(cast: Cast, rota: Rota, client_for):
    client, query = client_for(cast.ada), asked(rota)
    chosen = offered(client.get(OWN, query).content.decode())[0]
    page = client.post(OWN, chosen | {"educator": cast.omar.pk}, query_params=query)
    assert page.status_code in {200, 404}
    assert not Booking.objects.exists()


def test_a_student_cannot_name_another(cast: Cast, rota: Rota, client_for):
    press(client_for(cast.ada), OWN, asked(rota, student=cast.bea.pk))
    assert Booking.objects.get().student == cast.ada


def test_without_a_time_a_student_may_wait(cast: Cast, rota: Rota, client_for):
    make_free(cast.ada, 6)  # Sundays: nobody works
    page = client_for(cast.ada).get(OWN, asked(rota)).content.decode()
    assert "No time is free in these days" in page and reverse("courses:wait") in page


def test_a_move_keeps_the_booking(cast: Cast, rota: Rota, made: Booking, client_for):
    url = reverse("assessments:my-booking-move", args=[made.uid])
    press(client_for(cast.ada), url, {"first_on": coming(2).date().isoformat()})
    moved = Booking.objects.get()
    assert (moved.uid, moved.sequence, moved.starts_at) == (made.uid, 1, coming(2).replace(hour=9))


def test_a_stale_page_moves_nothing(cast: Cast, rota: Rota, made: Booking, client_for):
    url = reverse("assessments:booking-move", args=[made.uid])
    client = client_for(cast.ines)
    chosen = offered(client.get(url).content.decode())[-1]
    there = place_for(cast, rota, starts_at=coming() + timedelta(hours=3))
    move_booking(booking=made, place=there, actor=cast.second, seen=0, **MADE)
    for seen in (chosen, chosen | {"seen": ""}):
        assert "Somebody changed this booking meanwhile" in client.post(url, seen).content.decode()
    made.refresh_from_db()
    assert made.starts_at == there.starts_at


def test_a_student_moves_nothing_within_the_notice(cast: Cast, rota: Rota, made: Booking, client_for):
    starts = timezone.now() + timedelta(hours=47)
    Booking.objects.filter(pk=made.pk).update(starts_at=starts, ends_at=starts + timedelta(minutes=90))
    url = reverse("assessments:my-booking-move", args=[made.uid])
    page = press(client_for(cast.ada), url, {}, -1).content.decode()
    assert "Changes need 48 hours of notice" in page


def test_a_live_model_day_waits_for_the_gate_even_for_staff(cast: Cast, rota: Rota, client_for):
    query = asked(rota, student=cast.ada.pk, kind=rota.live.pk)
    page = press(client_for(cast.ines), NEW, query).content.decode()
    assert "The live-model gate is not open for Ada Marsh." in page
    assert not Booking.objects.exists()


def test_behind_the_open_gate_a_live_model_day_is_booked(cast: Cast, rota: Rota, client_for):
    make_open_gate(cast, gate=easier(lapse_days=3650))
    press(client_for(cast.ines), NEW, asked(rota, student=cast.ada.pk, kind=rota.live.pk))
    assert Booking.objects.get().kind == rota.live


def test_a_student_is_offered_no_live_model_day(cast: Cast, rota: Rota, client_for):
    page = client_for(cast.ada).get(OWN, asked(rota, kind=rota.live.pk)).content.decode()
    assert "What was chosen is no longer there." in page
    assert not offered(page)
