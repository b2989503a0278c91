"""What every test may ask for: the cast, a fixed instant, signed-in clients, and the real services."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import pytest
from django.core.cache import cache
from django.test import Client

from academy.models import Membership
from tests.factories.academy import Cast, make_cast, sign_in

pytest_plugins = [
    "tests.services.plugin",
    "tests.services.browser",
    "tests.services.smtp",
    "tests.services.worker",
]


@pytest.fixture
def now() -> datetime:
    """A Monday morning in term."""
    return datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


@pytest.fixture
def client_for() -> Callable[[Membership], Client]:
    """Call it with a member: it gives a client through which that member is signed in."""

    def signed_in(member: Membership) -> Client:
        client = Client()
        sign_in(client, member)
        return client

    return signed_in


@pytest.fixture(autouse=True)
def _empty_cache() -> Iterator[None]:
    """Attempts counted against a rate limit in one test must not count in the next."""
    yield
    cache.clear()
