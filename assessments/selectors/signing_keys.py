"""The key that signs for an academy now, and what is published of every key it ever had."""

from django.db.models import QuerySet

from academy.signing_keys import NoSigningKey, SigningKey, all_keys
from assessments.credentials.keys import public_jwk, thumbprint
from assessments.models import PublicKey


def signing_key(academy_id: int) -> tuple[SigningKey, str]:
    """The newest key that others can already check with, and its thumbprint; one query.

    A key is published before it signs: a signature that nobody can check is worth nothing.
    """
    published = set(published_keys(academy_id).values_list("thumbprint", flat=True))
    for key in reversed(all_keys(academy_id)):
        mark = thumbprint(public_jwk(key))
        if mark in published:
            return key, mark
    raise NoSigningKey(academy_id)


def published_keys(academy_id: int) -> QuerySet[PublicKey]:
    """Every key that ever signed for the academy, oldest first."""
    return PublicKey.objects.filter(academy=academy_id)
