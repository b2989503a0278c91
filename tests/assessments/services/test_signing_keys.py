"""Keys are added, published before they sign, and never taken back."""

import pytest
from django.db import transaction

from academy.models import AuditEntry, RecordIsFinal
from academy.signing_keys import all_keys
from assessments.credentials.keys import public_jwk, thumbprint
from assessments.models import PublicKey
from assessments.selectors.signing_keys import signing_key
from assessments.services.signing_keys import make_signing_key, publish_keys
from tests.factories.academy import JOINED, Cast
from tests.factories.signing_keys import lend_key

pytestmark = pytest.mark.django_db


def test_a_new_key_is_kept_published_and_on_record(cast: Cast):
    row = make_signing_key(academy=cast.academy, actor=cast.owner, now=JOINED)
    (key,) = all_keys(cast.academy.pk)
    assert row.thumbprint == thumbprint(public_jwk(key)) and row.jwk == public_jwk(key)
    assert signing_key(cast.academy.pk) == (key, row.thumbprint)
    entry = AuditEntry.objects.get(action="make_signing_key")
    assert (entry.actor, entry.after) == (cast.owner, {"thumbprint": row.thumbprint})


def test_whoever_runs_the_server_makes_one_without_a_place_here(cast: Cast):
    make_signing_key(academy=cast.academy, now=JOINED)
    assert AuditEntry.objects.get(action="make_signing_key").actor is None


def test_nothing_private_is_published(cast: Cast):
    row = make_signing_key(academy=cast.academy, now=JOINED)
    assert set(row.jwk) <= {"kty", "n", "e", "alg", "use"}  # RFC 7518 section 6.3.2 names the private ones


def test_publishing_again_changes_nothing(cast: Cast):
    lend_key(cast.academy.pk)
    for _ in range(2):
        publish_keys(academy=cast.academy, now=JOINED)
    assert PublicKey.objects.count() == 1
    with pytest.raises(RecordIsFinal):
        PublicKey.objects.get().delete()


def test_a_key_whose_publication_was_undone_is_published_with_the_next(cast: Cast):
    with transaction.atomic():
        make_signing_key(academy=cast.academy, now=JOINED)
        transaction.set_rollback(True)
    assert not PublicKey.objects.exists()
    make_signing_key(academy=cast.academy, now=JOINED)
    assert PublicKey.objects.count() == len(all_keys(cast.academy.pk)) == 2
