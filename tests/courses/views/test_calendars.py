import re
from datetime import timedelta

import icalendar
import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from courses.services import bookings as services
from courses.services.bookings import book
from courses.services.feeds import close_feed, renew_feed
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, make_rota, place_for


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch):
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)


@pytest.fixture
def address(cast: Cast) -> str:
    starts = (timezone.now() + timedelta(days=7)).replace(hour=10, minute=0, second=0, microsecond=0)
    starts += timedelta(days=(7 - starts.weekday()) % 7)  # a Monday to come
    place = place_for(cast, make_rota(cast), starts_at=starts)
    book(place=place, actor=cast.ines, live_allowed=False, now=MADE_AT)
    return reverse("courses:calendar-feed", args=[renew_feed(member=cast.ada, now=timezone.now())])


def test_the_address_alone_opens_the_calendar(address: str):
    answer = Client().get(address)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Cache-Control"].startswith("private")
    assert answer["Referrer-Policy"] == "no-referrer"
    assert len(icalendar.Calendar.from_ical(answer.content).walk("VEVENT")) == 1
    assert not answer.cookies


def test_an_unchanged_calendar_is_not_sent_again(address: str):
    first = Client().get(address)
    again = Client().get(address, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", first["ETag"])
    for tags in ("*", f'"other", {first["ETag"]}', "W/" + first["ETag"]):
        assert Client().get(address, headers={"If-None-Match": tags}).status_code == 304
    assert Client().get(address, headers={"If-None-Match": '"other"'}).status_code == 200


def test_an_unknown_or_closed_address_is_not_here(address: str, cast: Cast):
    assert Client().get(reverse("courses:calendar-feed", args=["x" * 43])).status_code == 404
    close_feed(member=cast.ada, now=timezone.now())
    assert Client().get(address).status_code == 404


def test_a_feed_costs_the_same_however_many_bookings(address: str, django_assert_max_num_queries):
    with django_assert_max_num_queries(2):
        Client().get(address)


def test_the_secret_is_shown_once(cast: Cast, client_for):
    client = client_for(cast.ada)
    answer = client.post(reverse("courses:calendar-renew"))
    assert answer["Cache-Control"] == "no-store"
    page = answer.content.decode()
    (address,) = set(re.findall(r'value="[^"]*(/feeds/[^"]+)"', page))
    assert Client().get(address).status_code == 200
    assert "/feeds/" not in client.get(reverse("courses:my-calendar")).content.decode()
    token = address.rpartition("/")[2].removesuffix(".ics")
    assert not [key for key, value in client.session.items() if token in str(value)]
    client.post(reverse("courses:calendar-close"))
    assert Client().get(address).status_code == 404
