"""Signing keys of an academy: made by adding, published for ever, never replaced."""

from datetime import datetime

from django.db import transaction

from academy.models import Academy, AuditEntry, Membership
from academy.signing_keys import all_keys, make_key
from assessments.credentials.keys import public_jwk, thumbprint
from assessments.models import PublicKey


@transaction.atomic
def make_signing_key(*, academy: Academy, now: datetime, actor: Membership | None = None) -> PublicKey:
    """A new key that signs from now on; ``actor`` None: whoever runs the server, at the terminal."""
    mark = thumbprint(public_jwk(make_key(academy.pk)))
    publish_keys(academy=academy, now=now)
    row = PublicKey.objects.get(thumbprint=mark)
    AuditEntry.objects.create(
        academy=academy,
        actor=actor,
        action="make_signing_key",
        object_type=row._meta.label_lower,
        object_id=str(row.pk),
        after={"thumbprint": mark},
        at=now,
    )
    return row


def publish_keys(*, academy: Academy, now: datetime) -> None:
    """Publish whatever key files there are and nobody can check with yet; the same keys change nothing."""
    PublicKey.objects.bulk_create(
        [
            PublicKey(academy=academy, thumbprint=thumbprint(jwk), jwk=jwk, created_at=now)
            for jwk in map(public_jwk, all_keys(academy.pk))
        ],
        ignore_conflicts=True,
    )
