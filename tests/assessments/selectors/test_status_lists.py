"""Which places of a list are set, told from what happened."""

import pytest

from academy.errors import NotHere
from assessments.models import Certificate
from assessments.selectors.status_lists import status_list
from assessments.services import certificates as services
from assessments.services.certificates import (
    reissue_certificate,
    restore_certificate,
    revoke_certificate,
    suspend_certificate,
)
from tests.factories.academy import Cast
from tests.factories.certificates import ISSUED, certified_ada, make_certificate

pytestmark = pytest.mark.django_db


def listed(cast: Cast, purpose: str, number: int = 1) -> frozenset[int]:
    return status_list(cast.academy.pk, purpose, number, at=ISSUED).indexes


def decide(service, row: Certificate, cast: Cast) -> None:
    service(certificate=row, reason="Invented", actor=cast.owner, now=ISSUED)


def test_a_suspension_is_set_and_taken_back_a_revocation_stays(cast: Cast):
    row, other = certified_ada(cast), make_certificate(cast.bea, cast.ines)
    assert listed(cast, "revocation") == listed(cast, "suspension") == frozenset()
    for _ in range(2):
        decide(suspend_certificate, row, cast)
        assert listed(cast, "suspension") == {row.status_index}
        decide(restore_certificate, row, cast)
        assert listed(cast, "suspension") == frozenset()
    decide(revoke_certificate, row, cast)
    decide(revoke_certificate, other, cast)
    both = {row.status_index, other.status_index}
    assert listed(cast, "revocation") == listed(cast, "suspension") == both


def test_a_replaced_certificate_is_revoked_for_readers_of_lists(cast: Cast):
    row = certified_ada(cast)
    reissue_certificate(
        certificate=row, holder_name="Ada Fell", reason="Married", actor=cast.owner, now=ISSUED
    )
    assert listed(cast, "revocation") == {row.status_index}


def test_academies_and_lists_are_kept_apart(cast: Cast, monkeypatch):
    monkeypatch.setattr(services, "LIST_HOLDS", 1)
    rows = [
        certified_ada(cast),
        make_certificate(cast.bea, cast.ines),
        make_certificate(cast.omar_student, cast.omar),
    ]
    for row in rows:
        decide(revoke_certificate, row, cast)
    assert listed(cast, "revocation", 1) == {rows[0].status_index}
    assert listed(cast, "revocation", 2) == {rows[1].status_index}
    assert status_list(cast.other_academy.pk, "revocation", 1, at=ISSUED).indexes == {rows[2].status_index}


def test_a_list_names_its_address_issuer_and_purpose(cast: Cast, settings):
    found = status_list(cast.academy.pk, "suspension", 1, at=ISSUED)
    assert found.url == f"{settings.SITE_URL}/status/{cast.academy.pk}/suspension/1"
    assert found.issuer.endswith(f":schools:{cast.academy.pk}") and found.purpose == "suspension"
    assert found.made_at == ISSUED and found.ttl < found.lifetime


@pytest.mark.parametrize(("purpose", "number"), [("message", 1), ("revocation", 2), ("revocation", 0)])
def test_a_list_that_was_never_begun_is_not_here(cast: Cast, purpose: str, number: int):
    with pytest.raises(NotHere):
        status_list(cast.academy.pk, purpose, number, at=ISSUED)
