"""Which certificates of a cohort would be printed now, and the files asked for."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Count, QuerySet

from academy.errors import NotHere
from academy.models import Academy, Cohort, Membership
from academy.selectors.people import cohorts
from assessments.models import Certificate, CertificateBatch
from assessments.scoring.certificate_state import State
from assessments.selectors.certificates import certificates, in_state
from assessments.selectors.second_marks import MarkingBlind, waiting_for


@dataclass(frozen=True, slots=True)
class CohortToPrint:
    cohort: Cohort
    certificates: int


def cohorts_to_print(academy: Academy, *, at: datetime) -> list[CohortToPrint]:
    """Cohorts with certificates in force, newest first; two queries."""
    in_force = in_state(Certificate.objects.filter(academy=academy), State.VALID, at=at)
    counted = in_force.order_by().values_list("student__cohort").annotate(Count("pk"))
    by_cohort = {cohort_id: count for cohort_id, count in counted if cohort_id}
    return [CohortToPrint(row, by_cohort[row.pk]) for row in cohorts(academy) if row.pk in by_cohort]


def certificates_to_print(cohort: Cohort, *, at: datetime) -> QuerySet[Certificate]:
    """Those in force of its students, by name of the holder."""
    rows = in_state(certificates(cohort.academy), State.VALID, at=at)
    return rows.filter(student__cohort=cohort).order_by("holder_name", "number")


def certificate_batches(academy: Academy) -> QuerySet[CertificateBatch]:
    """Newest first; one query."""
    return CertificateBatch.objects.filter(academy=academy).select_related("cohort", "asked_by__user")


def certificate_batch(academy: Academy, uid: UUID) -> CertificateBatch:
    """A foreign or unknown one is NotHere; one query."""
    found = certificate_batches(academy).filter(uid=uid).first()
    if found is None:
        raise NotHere("file of certificates")
    return found


def batch_under_way(cohort: Cohort, kind: str, *, now: datetime) -> CertificateBatch | None:
    """The same file, asked for and not yet written."""
    newest = CertificateBatch.objects.filter(cohort=cohort, kind=kind).first()
    return newest if newest and newest.is_under_way(now) else None


def refuse_blind(member: Membership, cohort: Cohort, *, until: datetime) -> None:
    """Raises MarkingBlind while a set of the cohort graded by ``until`` waits for this member's own look."""
    waiting = waiting_for(member).filter(
        practice_set__student__cohort=cohort, practice_set__graded_at__lte=until
    )
    if first := waiting.first():
        raise MarkingBlind(first)
