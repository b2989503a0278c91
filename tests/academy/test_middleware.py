"""How long a session lasts, what is kept of a page, and how a refusal looks."""

import json

import pytest
from django.conf import settings as project
from django.contrib.sessions.models import Session
from django.http import HttpResponse
from django.test import RequestFactory
from pytest_django.asserts import assertContains, assertRedirects

from academy import middleware
from academy.errors import Conflict, Denied, DomainError, NotHere
from academy.middleware import DomainErrorMiddleware

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
    monkeypatch.setattr(middleware, "time", stopped)
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


def expiry(client):
    return Session.objects.get(session_key=client.session.session_key).expire_date


def test_pages_of_signed_in_people_are_not_kept_by_browsers(cast, client_for):
    assert client_for(cast.ada).get(CHOOSE)["Cache-Control"] == "no-store"


def test_an_error_page_is_not_kept_either(cast, client_for):
    assert client_for(cast.ada).get("/people/")["Cache-Control"] == "no-store"


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


def test_pages_carry_the_headers_that_browsers_enforce(client):
    headers = client.get("/account/login/").headers
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
    policy = headers["Content-Security-Policy"]
    assert "script-src 'self'" in policy and "unsafe" not in policy


def test_the_api_answers_strangers_with_a_problem_document(client):
    answer = client.get("/api/v1/sets/00000000-0000-4000-8000-000000000000/")
    assert (answer.status_code, answer["Content-Type"]) == (403, "application/problem+json")
    assert json.loads(answer.content)["status"] == 403
