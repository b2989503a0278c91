"""Certificates of an academy and of a student, each with its state at an instant."""

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from academy.errors import NotHere
from academy.models import Academy, Membership
from assessments.credentials.code import grouped
from assessments.models import Certificate, CertificateEvent
from assessments.scoring.certificate_state import State, certificate_state
from assessments.scoring.certified import Certified, certified_of, plain_words
from assessments.selectors.credentials import check_url
from assessments.selectors.second_marks import MarkingBlind, waiting_for
from courses.models import Enrolment

_EVENTS = CertificateEvent.objects.select_related("by__user")


@dataclass(frozen=True)
class Standing:
    """One certificate as it stands at ``at``; no query when its events came with it."""

    certificate: Certificate
    at: datetime

    @cached_property
    def state(self) -> State:
        row = self.certificate
        return certificate_state(
            valid_from=row.valid_from,
            valid_until=row.valid_until,
            events=[event.kind for event in row.events.all()],
            at=self.at,
        )

    @cached_property
    def certified(self) -> Certified:
        return certified_of(self.certificate.content)

    @property
    def code(self) -> str:
        """As printed, in groups."""
        return grouped(self.certificate.code)

    @property
    def shows_marks(self) -> bool:
        sharing = getattr(self.certificate, "sharing", None)
        return sharing is not None and sharing.shows_marks

    @property
    def words(self) -> list[str]:
        return plain_words(self.certified)

    @property
    def check_url(self) -> str:
        return check_url(self.certificate.code)

    @property
    def can_be_revoked(self) -> bool:
        return self.state not in {State.REVOKED, State.REPLACED}

    @property
    def is_over(self) -> bool:
        """Nothing brings it back: another may be issued in its place."""
        return self.state in {State.EXPIRED, State.REVOKED}


def certificates(academy: Academy) -> QuerySet[Certificate]:
    """All ever issued here, newest first, with their events; two queries."""
    return (
        Certificate.objects.filter(academy=academy)
        .select_related("academy", "student__user", "issued_by__user", "sharing", "replaces")
        .prefetch_related(Prefetch("events", _EVENTS))
    )


def in_state(rows: QuerySet[Certificate], state: State, *, at: datetime) -> QuerySet[Certificate]:
    """Those that ``certificate_state`` gives this word, told by the database."""
    ended = Q(_has("revoked")) | Q(_has("replaced"))
    suspended = Q(_has("suspended", lifted_by=None))
    of_state = {
        State.REVOKED: Q(_has("revoked")),
        State.REPLACED: Q(_has("replaced")) & ~Q(_has("revoked")),
        State.SUSPENDED: suspended & ~ended,
        State.NOT_YET: Q(valid_from__gt=at) & ~ended & ~suspended,
        State.EXPIRED: Q(valid_from__lte=at, valid_until__lte=at) & ~ended & ~suspended,
        State.VALID: Q(valid_from__lte=at)
        & (Q(valid_until=None) | Q(valid_until__gt=at))
        & ~ended
        & ~suspended,
    }
    return rows.filter(of_state[state])


def certificate(academy: Academy, certificate_id: int) -> Certificate:
    """A foreign or unknown id is NotHere; two queries."""
    return _one(certificates(academy).filter(pk=certificate_id))


def certificate_for(member: Membership, certificate_id: int) -> Certificate:
    """As ``certificate``; a student has only her own. One query more for staff: see ``refuse_blind``."""
    rows = certificates(member.academy).filter(pk=certificate_id)
    if not member.is_staff_here:
        return _one(rows.filter(student=member))
    found = _one(rows)
    refuse_blind(member, found.student, until=found.issued_at)
    return found


def refuse_blind(member: Membership, student: Membership, *, until: datetime) -> None:
    """Raises MarkingBlind while a set graded by ``until``, on which levels rest, waits for her own look."""
    waiting = waiting_for(member, student).filter(practice_set__graded_at__lte=until)
    if first := waiting.first():
        raise MarkingBlind(first)


def certificates_of(student: Membership) -> QuerySet[Certificate]:
    """The student's own, newest first; two queries."""
    return certificates(student.academy).filter(student=student)


def newest_of(enrolment: Enrolment) -> Certificate | None:
    """What was issued last for this enrolment; two queries."""
    rows = Certificate.objects.filter(enrolment=enrolment).prefetch_related("events")
    return rows.order_by("-number").first()


def ready_enrolments(academy: Academy, *, at: datetime) -> QuerySet[Enrolment]:
    """Of students who meet every condition by what is kept of them and hold no certificate that stands."""
    held = Certificate.objects.filter(
        ~Q(_has("revoked")),
        ~Q(_has("replaced")),
        Q(valid_until=None) | Q(valid_until__gt=at),
        enrolment=OuterRef("pk"),
    )
    return (
        Enrolment.objects.filter(
            ~Exists(held),
            student__academy=academy,
            student__left_at=None,
            student__gate_standing__certificate_ready=True,
            ended_at=None,
        )
        .select_related("student__user", "student__cohort", "version__programme")
        .order_by("student__user__name", "id")
    )


def _has(kind: str, **which: None) -> Exists:
    return Exists(CertificateEvent.objects.filter(certificate=OuterRef("pk"), kind=kind, **which))


def _one(rows: QuerySet[Certificate]) -> Certificate:
    found = rows.first()
    if found is None:
        raise NotHere("certificate")
    return found
