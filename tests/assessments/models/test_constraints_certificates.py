"""The last line of defence of certificates and keys: every rule of the database bites."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection

from academy.models import RecordIsFinal
from assessments.models import Certificate, CertificateEvent, CertificateSharing, PublicKey
from assessments.services.certificates import (
    restore_certificate,
    revoke_certificate,
    share_certificate,
    suspend_certificate,
)
from tests.assessments.models.constraints import again, bitten, change, first
from tests.factories.academy import Cast
from tests.factories.certificates import ISSUED, certified_ada, make_certificate

Attempt = Callable[[Certificate], None]


def another(row: Certificate, **changes: Any) -> None:
    """The same certificate once more, new in all that has to be, but for ``changes``."""
    new = {
        "number": 9,
        "code": "9" * 12,
        "subject_id": uuid4(),
        "status_index": (row.status_index + 1) % 9,
        "replaces_id": row.pk,
    }
    again(row, **{**new, **changes})


CASES: dict[str, list[Attempt]] = {
    "public_key_holds_no_private_part": [
        lambda row: change(first(PublicKey), jwk={"kty": "RSA", "d": "AQAB"})
    ],
    "certificate_number_once": [lambda row: another(row, number=row.number)],
    "certificate_status_bit_once": [lambda row: another(row, status_index=row.status_index)],
    "certificate_one_first_per_enrolment": [lambda row: another(row, replaces_id=None)],
    "certificate_status_bit_in_list": [lambda row: change(row, status_index=131_072)],
    "certificate_ends_after_it_begins": [
        lambda row: change(row, valid_until=row.valid_from),
        lambda row: change(row, valid_until=row.valid_from - timedelta(days=1)),
    ],
    "certificate_is_complete": [
        lambda row: change(row, code=""),
        lambda row: change(row, token=""),
        lambda row: change(row, holder_name=""),
    ],
    "certificate_event_known_kind": [
        lambda row: change(first(CertificateEvent, kind="suspended"), kind="lost")
    ],
    "certificate_event_has_reason": [lambda row: change(first(CertificateEvent), reason="")],
    "certificate_restoring_names_suspension": [
        lambda row: change(first(CertificateEvent, kind="restored"), lifts_id=None),
        lambda row: change(
            first(CertificateEvent, kind="revoked"),
            lifts_id=CertificateEvent.objects.filter(kind="restored").values_list("pk", flat=True)[0],
        ),
    ],
    "certificate_ends_once": [lambda row: again(first(CertificateEvent, kind="revoked"))],
}
# Fields that are unique by themselves, by table and column.
ALONE: dict[str, Attempt] = {
    "assessments_publickey.thumbprint": lambda row: again(first(PublicKey)),
    "assessments_certificate.code": lambda row: another(row, code=row.code),
    "assessments_certificate.subject_id": lambda row: another(row, subject_id=row.subject_id),
    "assessments_certificateevent.lifts_id": lambda row: again(first(CertificateEvent, kind="restored")),
    "assessments_certificatesharing.certificate_id": lambda row: again(first(CertificateSharing)),
}


@pytest.fixture
def row(cast: Cast) -> Certificate:
    """Ada's: suspended, restored, shared and revoked."""
    row = certified_ada(cast)
    for service in (suspend_certificate, restore_certificate, revoke_certificate):
        service(certificate=row, reason="Invented", actor=cast.owner, now=ISSUED)
    share_certificate(certificate=row, shows_marks=True, actor=cast.ada, now=ISSUED)
    return row


def test_every_constraint_bites_by_its_own_name(row: Certificate):
    answers = {name: [bitten(attempt, row) for attempt in attempts] for name, attempts in CASES.items()}
    assert [name for name, said in answers.items() if not all(said)] == []
    if connection.vendor == "postgresql":
        assert {name: said for name, said in answers.items() if set(said) != {name}} == {}


def test_every_field_that_is_unique_alone_bites(row: Certificate):
    answers = {name: bitten(attempt, row) for name, attempt in ALONE.items()}
    assert [name for name, said in answers.items() if name.split(".")[1] not in said] == []


def test_one_certificate_is_replaced_by_one(row: Certificate, cast: Cast):
    another(row)
    assert "replaces_id" in bitten(
        lambda row: another(row, number=10, code="8" * 12, status_index=77, subject_id=uuid4()), row
    )


def test_a_certificate_of_another_academy_may_have_the_same_number(row: Certificate, cast: Cast):
    assert make_certificate(cast.omar_student, cast.omar).number == row.number


@pytest.mark.parametrize("model", [Certificate, CertificateEvent, PublicKey])
def test_what_is_written_once_is_never_changed(row: Certificate, model):
    found = model.objects.first()
    for attempt in (found.save, found.delete, model.objects.all().delete):
        with pytest.raises(RecordIsFinal):
            attempt()


def test_no_constraint_of_these_tables_is_left_untried():
    mine = [PublicKey, Certificate, CertificateEvent, CertificateSharing]
    assert {rule.name for model in mine for rule in model._meta.constraints} == set(CASES)
