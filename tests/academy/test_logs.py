import io
import logging

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from academy.logs import HideSecretAddresses
from courses.selectors import feeds
from courses.views import calendars

TOKEN = "q" * 43


@pytest.fixture
def lines():
    """What a handler of ours writes, from whichever logger."""
    written = io.StringIO()
    handler = logging.StreamHandler(written)
    handler.addFilter(HideSecretAddresses())
    logging.getLogger().addHandler(handler)
    yield written
    logging.getLogger().removeHandler(handler)


def test_every_handler_hides_secret_addresses():
    assert settings.LOGGING["filters"]["no_secrets"]["()"] == "academy.logs.HideSecretAddresses"
    assert all("no_secrets" in handler["filters"] for handler in settings.LOGGING["handlers"].values())


@pytest.mark.django_db
def test_neither_a_refusal_nor_a_failure_writes_the_token_of_a_feed(lines, monkeypatch):
    client = Client(raise_request_exception=False)
    address = reverse("courses:calendar-feed", args=[TOKEN])
    assert client.get(address).status_code == 404

    def fails(token: str) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(calendars, "feed_by_token", fails)
    assert client.get(address).status_code == 500
    assert "/feeds/…" in lines.getvalue() and "the disk is full" in lines.getvalue()
    assert TOKEN not in lines.getvalue()
    assert feeds.token_digest(TOKEN) not in lines.getvalue()


def test_nothing_else_is_changed(lines):
    logging.getLogger("academy").warning("%s of %d: /people/invite/ and /rota/", "one", 2)
    logging.getLogger("academy").warning('"GET /invitation/%s/ HTTP/1.1"', TOKEN)
    assert lines.getvalue() == 'one of 2: /people/invite/ and /rota/\n"GET /invitation/…/ HTTP/1.1"\n'
