"""How long a session lasts, what is kept of a page, and how a refusal looks."""

import json
from datetime import UTC, datetime

import pytest
from allauth.usersessions.models import UserSession
from django.conf import settings as project
from django.contrib.sessions.models import Session
from django.db import connection
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from pytest_django.asserts import assertContains, assertRedirects

from academy import context, middleware
from academy.errors import Conflict, Denied, DomainError, NotHere
from academy.middleware import DomainErrorMiddleware
from academy.views import home

pytestmark = pytest.mark.django_db
CHOOSE = "/choose/"


@pytest.fixture
def clock(monkeypatch):
    """Stands still until it is moved."""

    class Clock:
        at = 1_772_442_000.0

        def time(self):
            return self.at

    stopped = Clock()
    for room in (middleware, context, home):
        monkeypatch.setattr(room, "time", stopped)
    return stopped


def test_a_session_ends_at_its_absolute_limit_however_busy(cast, client_for, clock):
    client = client_for(cast.ada)
    began = clock.at
    while clock.at - began <= project.SESSION_ABSOLUTE_LIMIT_S - 3600:
        assert client.get(CHOOSE).status_code == 200
        clock.at += 3600
    clock.at = began + project.SESSION_ABSOLUTE_LIMIT_S + 1
    answer = client.get(CHOOSE, follow=True)
    assertRedirects(answer, f"/account/login/?next={CHOOSE}")
    assertContains(answer, "You were signed in for a whole working day")


def test_the_limit_is_counted_from_signing_in_again(cast, client_for, clock):
    client_for(cast.ada).get(CHOOSE)
    clock.at += project.SESSION_ABSOLUTE_LIMIT_S + 1
    assert client_for(cast.ada).get(CHOOSE).status_code == 200


def test_using_a_session_moves_its_idle_limit_but_not_at_every_page(cast, client_for, clock):
    client = client_for(cast.ada)
    client.get(CHOOSE)
    first = expiry(client)
    clock.at += project.SESSION_REFRESH_S - 1
    client.get(CHOOSE)
    assert expiry(client) == first
    clock.at += 2
    client.get(CHOOSE)
    assert expiry(client) > first


def test_an_idle_session_is_over_after_four_hours(cast, client_for):
    client = client_for(cast.ada)
    client.get(CHOOSE)
    assert project.SESSION_COOKIE_AGE == 4 * 3600
    row = Session.objects.get(session_key=client.session.session_key)
    row.expire_date = row.expire_date.replace(year=2020)
    row.save()
    assertRedirects(client.get(CHOOSE), f"/account/login/?next={CHOOSE}")


SESSION = "/session/"


def test_asking_how_long_a_session_lasts_does_not_prolong_it(cast, client_for, clock):
    """A page left open on a desk must not keep somebody signed in."""
    client = client_for(cast.ada)
    client.get(CHOOSE)
    first = expiry(client)
    clock.at += 3 * 3600
    assert client.get(SESSION).json() | {"token": ""} == {"left_s": 3600, "can_stay": True, "token": ""}
    assert expiry(client) == first


def test_one_press_stays_signed_in_and_as_often_as_one_likes(cast, client_for, clock):
    """WCAG 2.2, success criterion 2.2.1: a simple action, at least ten times."""
    client = client_for(cast.ada)
    client.get(CHOOSE)
    for _ in range(10):
        clock.at += 3600
        assert client.post(SESSION).json()["left_s"] == project.SESSION_COOKIE_AGE
    assert client.get(CHOOSE).status_code == 200


def test_the_absolute_limit_cannot_be_put_off_and_says_so(cast, client_for, clock):
    client = client_for(cast.ada)
    client.get(CHOOSE)
    for _ in range(13):
        clock.at += 3600
        client.get(CHOOSE)
    left = client.post(SESSION).json()
    assert (left["left_s"], left["can_stay"]) == (3600, False)


def test_nobody_signed_in_has_nothing_left(client):
    assert client.get(SESSION).json()["left_s"] == 0
    assert client.post(SESSION).json()["left_s"] == 0


def test_the_warning_comes_early_enough(cast, client_for):
    """WCAG 2.2, success criterion 2.2.1: at least 20 seconds to answer."""
    assert project.SESSION_WARN_S >= 20
    assertContains(client_for(cast.ada).get(CHOOSE), f'data-warn-s="{project.SESSION_WARN_S}"')


def test_a_page_view_writes_nothing_between_two_refreshes(cast, client_for, clock):
    client = client_for(cast.ada)
    client.get(CHOOSE)
    clock.at += project.SESSION_REFRESH_S - 1
    with CaptureQueriesContext(connection) as asked:
        client.get(CHOOSE)
    assert [query["sql"] for query in asked if not query["sql"].startswith("SELECT")] == []


def test_a_session_tells_when_it_was_last_used(cast, client_for, clock):
    client = client_for(cast.ada)
    client.get(CHOOSE)
    UserSession.objects.update(last_seen_at=datetime(2026, 3, 2, tzinfo=UTC))
    clock.at += project.SESSION_REFRESH_S + 1
    client.get(CHOOSE)
    seen = UserSession.objects.get(user=cast.ada.user).last_seen_at
    assert seen > datetime(2026, 3, 2, tzinfo=UTC)


def expiry(client):
    return Session.objects.get(session_key=client.session.session_key).expire_date


PAGES = {
    "a page": ("ada", CHOOSE, 200),
    "not found": ("ada", "/no/such/page/", 404),
    "not in this academy": ("owner", "/people/999999/", 404),
    "not for this role": ("ada", "/people/", 403),
    "no session": (None, "/account/login/", 200),
    "an invitation": (None, "/invitation/garbled/", 404),
}


def check_headers(answer):
    """ASVS 5.0.0, 3.4.3-3.4.6 and 14.3.2: what a browser may run, guess, tell others and keep."""
    policy = answer["Content-Security-Policy"]
    assert "default-src 'self'" in policy and "frame-ancestors 'none'" in policy and "unsafe" not in policy
    assert "require-trusted-types-for 'script'" in policy
    assert answer["X-Frame-Options"] == "DENY"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"
    assert "no-store" in answer["Cache-Control"]


@pytest.mark.parametrize("name", PAGES)
def test_every_page_and_error_page_carries_the_headers_that_browsers_enforce(cast, client, client_for, name):
    who, address, status = PAGES[name]
    answer = (client_for(getattr(cast, who)) if who else client).get(address)
    assert answer.status_code == status
    check_headers(answer)


def test_a_failure_of_ours_carries_them_too(cast, client_for, monkeypatch):
    client = client_for(cast.ada)
    client.raise_request_exception = False

    def fails(user):
        raise RuntimeError

    monkeypatch.setattr("academy.views.home.memberships_of", fails)
    answer = client.get(CHOOSE)
    assert answer.status_code == 500
    check_headers(answer)


def test_a_form_without_its_token_is_refused_with_them():
    answer = Client(enforce_csrf_checks=True).post("/account/login/", {"login": "x"})
    assert answer.status_code == 403
    check_headers(answer)


def test_a_host_name_that_is_not_ours_is_refused(client):
    """Else a forged name could find its way into links that we send by e-mail."""
    answer = client.get("/account/login/", headers={"Host": "elsewhere.example"})
    assert answer.status_code == 400
    assert "elsewhere" not in answer.content.decode()
    assert "default-src 'self'" in answer["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (NotHere("set"), 404),
        (Denied("no", "This is not yours to do."), 403),
        (Conflict("moved", "Somebody changed it meanwhile."), 409),
        (DomainError("no", "That cannot be."), 409),
    ],
)
def test_a_refusal_that_no_form_caught_is_a_page_with_its_sentence(error, status):
    answer = DomainErrorMiddleware(lambda request: HttpResponse()).process_exception(
        RequestFactory().get("/"), error
    )
    assert answer is not None and answer.status_code == status
    assert status == 404 or error.message in answer.content.decode()


def test_a_fault_of_ours_is_not_dressed_up_as_a_refusal():
    middle = DomainErrorMiddleware(lambda request: HttpResponse())
    assert middle.process_exception(RequestFactory().get("/"), ValueError("ours")) is None


def test_the_api_answers_strangers_with_a_problem_document(client):
    answer = client.get("/api/v1/sets/00000000-0000-4000-8000-000000000000/")
    assert (answer.status_code, answer["Content-Type"]) == (403, "application/problem+json")
    assert json.loads(answer.content)["status"] == 403
