"""What every test may ask for."""

from collections.abc import Iterator

import pytest
from django.core.cache import cache

pytest_plugins = [
    "tests.services.plugin",
    "tests.services.browser",
    "tests.services.smtp",
    "tests.services.worker",
]


@pytest.fixture(autouse=True)
def _empty_cache() -> Iterator[None]:
    """Attempts counted against a rate limit in one test must not count in the next."""
    yield
    cache.clear()
