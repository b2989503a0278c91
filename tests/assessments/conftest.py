"""A bench ready for work: the cast, the starter rubric, a brief and a free head."""

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.factories.academy import Cast
from tests.factories.assessments import Bench
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric


@pytest.fixture
def bench(cast: Cast) -> Bench:
    """Ada at Head 1, with Ines."""
    starter_rubric(cast.academy, cast.owner)
    return Bench(cast.ada, cast.ines, make_brief(cast.academy, cast.ines), make_head(cast.academy))


@pytest.fixture
def count_queries() -> Callable[[Client, str], int]:
    """Queries of one GET, those of the session among them, once the session is there."""

    def count(client: Client, url: str) -> int:
        client.get(url)
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(url)
        assert answer.status_code == 200
        return len(queries)

    return count
