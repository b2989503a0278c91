"""Which places of a status list are set: told from what happened to the certificates at those places."""

from datetime import datetime, timedelta

from django.db.models import Q, QuerySet

from academy.errors import NotHere
from assessments.credentials.status_list import PURPOSES, REVOCATION, StatusListFacts
from assessments.models import Certificate, CertificateEvent
from assessments.selectors.credentials import issuer_did, status_url

COPY_LASTS = timedelta(minutes=10)  # how long a copy may be kept
OLD_AFTER = timedelta(hours=1)  # an older one is refused, so that it cannot stand in for a newer one
FIRST_LIST = 1


def status_list(academy_id: int, purpose: str, number: int, *, at: datetime) -> StatusListFacts:
    """One list as it stands; NotHere for a list that was never begun. Two queries, one for the first list."""
    if purpose not in PURPOSES or not _is_begun(academy_id, number):
        raise NotHere("status list")
    return StatusListFacts(
        url=status_url(academy_id, purpose, number),
        issuer=issuer_did(academy_id),
        purpose=purpose,
        indexes=frozenset(
            _listed(academy_id, purpose, number)
            .values_list("certificate__status_index", flat=True)
            .order_by()
        ),
        made_at=at,
        ttl=COPY_LASTS,
        lifetime=OLD_AFTER,
    )


def _listed(academy_id: int, purpose: str, number: int) -> QuerySet[CertificateEvent]:
    """A replaced certificate is revoked for whoever reads lists only: another stands in its place.

    Certificates name the list of suspensions alone, so what is revoked stays set in it for ever.
    """
    rows = CertificateEvent.objects.filter(certificate__academy=academy_id, certificate__status_list=number)
    ended = Q(kind__in=("revoked", "replaced"))
    return rows.filter(ended if purpose == REVOCATION else ended | Q(kind="suspended", lifted_by=None))


def _is_begun(academy_id: int, number: int) -> bool:
    if number == FIRST_LIST:
        return True
    return Certificate.objects.filter(academy=academy_id, status_list=number).exists()
