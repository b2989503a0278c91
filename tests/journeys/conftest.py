"""A bench ready for work and a signed-in tablet in front of it."""

import pytest
from playwright.sync_api import Page

from tests.factories.academy import Cast
from tests.factories.assessments import Bench
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric
from tests.journeys.tablet import Tablet


@pytest.fixture
def bench(transactional_db: None, cast: Cast) -> Bench:
    """Ada at Head 1, with Ines; a second head is free."""
    starter_rubric(cast.academy, cast.owner)
    make_head(cast.academy, "Head 2")
    return Bench(cast.ada, cast.ines, make_brief(cast.academy, cast.ines), make_head(cast.academy))


@pytest.fixture
def tablet(live_server, page: Page, bench: Bench) -> Tablet:
    """In Ines's hands."""
    tablet = Tablet(page, live_server.url)
    tablet.sign_in(bench.educator)
    return tablet
