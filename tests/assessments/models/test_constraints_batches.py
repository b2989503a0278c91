"""The last line of defence of files of certificates: every rule of the database bites."""

from collections.abc import Callable

import pytest
from django.db import connection

from assessments.models import CertificateBatch
from tests.assessments.models.constraints import again, bitten, change, first
from tests.factories.academy import Cast
from tests.factories.certificate_batches import make_batch

Attempt = Callable[[Cast], None]

CASES: dict[str, list[Attempt]] = {
    "certificate_batch_known_kind": [lambda cast: change(first(CertificateBatch), kind="doc")],
    "certificate_batch_of_something": [lambda cast: change(first(CertificateBatch), total=0, done=0)],
    "certificate_batch_done_of_total": [lambda cast: change(first(CertificateBatch), done=21)],
    "certificate_batch_file_when_finished": [lambda cast: change(first(CertificateBatch), file="a.pdf")],
}


@pytest.fixture
def asked(cast: Cast) -> Cast:
    """20 certificates were asked for; nothing is written yet."""
    make_batch(cast.cohort, cast.ines)
    return cast


def test_every_constraint_bites_by_its_own_name(asked: Cast):
    answers = {name: [bitten(attempt, asked) for attempt in attempts] for name, attempts in CASES.items()}
    assert [name for name, said in answers.items() if not all(said)] == []
    if connection.vendor == "postgresql":
        assert {name: said for name, said in answers.items() if set(said) != {name}} == {}


def test_the_key_in_the_address_is_unique(asked: Cast):
    assert "uid" in bitten(lambda cast: again(first(CertificateBatch)), asked)
