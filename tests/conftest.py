"""What every test may ask for: the cast, a fixed instant, signed-in clients, and the real services."""

import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from django.conf import settings
from django.core.cache import caches
from django.db import connection
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


@pytest.fixture(scope="session", autouse=True)
def _last_one_out(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Before the test database goes, end what killed workers and closed browsers left connected."""
    yield
    if connection.vendor != "postgresql" or not connection.settings_dict["NAME"].startswith("test_"):
        return
    with django_db_blocker.unblock(), connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )


@pytest.fixture(autouse=True)
def _no_signing_keys() -> Iterator[None]:
    """A later test may open an academy under the same number: it must not find this one's keys."""
    yield
    shutil.rmtree(settings.KEYS_DIR, ignore_errors=True)


@pytest.fixture(autouse=True)
def _empty_cache() -> Iterator[None]:
    """Attempts counted against a rate limit in one test must not count in the next."""
    yield
    for cache in caches.all(initialized_only=True):
        cache.clear()
