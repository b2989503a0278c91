"""Certificates issued, issued again under another name, suspended, restored and revoked."""

from collections.abc import Iterable
from datetime import datetime
from random import Random, SystemRandom
from uuid import UUID

from django.db import transaction

from academy.errors import Conflict, DomainError
from academy.models import Academy, Membership
from academy.services.audit import record
from academy.services.people import clean_name
from assessments.credentials.achievement import credential
from assessments.credentials.code import RANDOM_BYTES, code_from
from assessments.credentials.status_list import draw_index
from assessments.credentials.tokens import sign
from assessments.models import Certificate, CertificateEvent, CertificateSharing
from assessments.scoring.certificate_state import State, months_later
from assessments.scoring.certified import Certified, certified_of, content_of
from assessments.scoring.readiness_facts import Condition
from assessments.selectors.certificates import Standing, newest_of, refuse_blind
from assessments.selectors.certified import certificate_rules, certified_now
from assessments.selectors.credentials import facts_of, kid_of_key
from assessments.selectors.readiness import readiness_of
from assessments.selectors.signing_keys import signing_key
from assessments.selectors.status_lists import FIRST_LIST
from courses.models import Enrolment

Kind = CertificateEvent.Kind
ACTIONS = {  # a replacement is on record with the certificate that replaces
    Kind.SUSPENDED: "suspend_certificate",
    Kind.RESTORED: "restore_certificate",
    Kind.REVOKED: "revoke_certificate",
}
LIST_HOLDS = 100_000  # certificates in one list; the rest stays free, so that places can be drawn at random
_CHANCE = SystemRandom()


class NotReadyForCertificate(DomainError):
    def __init__(self, missing: Iterable[Condition]) -> None:
        names = [each.name for each in missing]
        super().__init__(
            "not_ready_for_certificate",
            f"Not every condition of the certificate is met yet: {', '.join(names)}. "
            "The readiness page says what is missing and the shortest way there."
            if names
            else "This student is on no programme that ends with a certificate. Enrol her on one first.",
            missing=names,
        )


class CertificateStands(Conflict):
    def __init__(self, certificate: Certificate) -> None:
        super().__init__(
            "certificate_stands",
            f"Certificate {certificate.number} has been issued for this programme and still stands. "
            "For a change of name, issue it again from its own page.",
        )


class CertificateIs(Conflict):
    """Its state does not allow what was asked."""

    def __init__(self, state: State, what: str) -> None:
        super().__init__("certificate_is", f"This certificate is {state}. {what}")


class ReasonMissing(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "reason_missing", "Give the reason, so that it can be explained years later.", field="reason"
        )


class SameHolder(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "same_holder",
            "The certificate already bears this name. Write the name as it is now.",
            field="name",
        )


@transaction.atomic
def issue_certificate(
    *, student: Membership, actor: Membership, now: datetime, chance: Random = _CHANCE
) -> Certificate:
    """Certify what the student's record says now; every condition of her programme must be met."""
    refuse_blind(actor, student, until=now)
    student = _locked_student(student)
    academy = _locked_academy(student.academy_id)
    readiness = readiness_of(student, now=now)
    enrolment = readiness.enrolment
    if enrolment is None or not readiness.is_certificate_ready:
        raise NotReadyForCertificate(readiness.certificate_missing)
    before = newest_of(enrolment)
    if before and not Standing(before, now).is_over:
        raise CertificateStands(before)
    certified = certified_now(student, readiness, actor=actor, now=now)
    row = _certificate(academy, enrolment, certified, actor, now)
    months = certificate_rules(enrolment).valid_months
    row.valid_until = months_later(row.valid_from, months) if months else None
    row.replaces = before
    _sign_and_keep(row, chance)
    record(actor, "issue_certificate", row, now=now, after=_told(row))
    return row


@transaction.atomic
def reissue_certificate(
    *,
    certificate: Certificate,
    holder_name: str,
    reason: str,
    actor: Membership,
    now: datetime,
    chance: Random = _CHANCE,
) -> Certificate:
    """The same certificate for a holder who bears another name now; the old one is replaced."""
    old, academy = _locked(certificate), _locked_academy(certificate.academy_id)
    state, name = Standing(old, now).state, clean_name(holder_name)
    if state not in {State.VALID, State.NOT_YET}:
        raise CertificateIs(state, "Only one that is in force can be issued under another name.")
    if name == old.holder_name:
        raise SameHolder
    certified = certified_of(old.content).renamed(name)
    row = _certificate(academy, old.enrolment, certified, actor, now)
    row.valid_from = max(row.valid_from, old.valid_from)
    row.valid_until = old.valid_until
    row.replaces = old
    _sign_and_keep(row, chance)
    _happen(old, Kind.REPLACED, reason, actor, now)
    record(actor, "reissue_certificate", row, now=now, reason=reason, after=_told(row))
    return row


@transaction.atomic
def suspend_certificate(
    *, certificate: Certificate, reason: str, actor: Membership, now: datetime
) -> CertificateEvent:
    """It does not count until it is restored."""
    row = _locked(certificate)
    state = Standing(row, now).state
    if state in {State.SUSPENDED, State.REVOKED, State.REPLACED}:
        raise CertificateIs(state, "It cannot be suspended.")
    return _happen(row, Kind.SUSPENDED, reason, actor, now)


@transaction.atomic
def restore_certificate(
    *, certificate: Certificate, reason: str, actor: Membership, now: datetime
) -> CertificateEvent:
    """Lift the suspension; what is revoked or replaced stays so."""
    row = _locked(certificate)
    state = Standing(row, now).state
    if state != State.SUSPENDED:
        raise CertificateIs(state, "Only a suspended certificate can be restored.")
    suspension = row.events.filter(kind=Kind.SUSPENDED, lifted_by=None).get()
    return _happen(row, Kind.RESTORED, reason, actor, now, lifts=suspension)


@transaction.atomic
def revoke_certificate(
    *, certificate: Certificate, reason: str, actor: Membership, now: datetime
) -> CertificateEvent:
    """For good: nothing brings it back, only another certificate can be issued."""
    row = _locked(certificate)
    state = Standing(row, now).state
    if state in {State.REVOKED, State.REPLACED}:
        raise CertificateIs(state, "It has ended already.")
    return _happen(row, Kind.REVOKED, reason, actor, now)


@transaction.atomic
def share_certificate(
    *, certificate: Certificate, shows_marks: bool, actor: Membership, now: datetime
) -> CertificateSharing:
    """The holder's own choice whether the check page shows her marks."""
    _locked(certificate)
    sharing, _ = CertificateSharing.objects.update_or_create(
        certificate=certificate, defaults={"shows_marks": shows_marks, "changed_at": now}
    )
    record(actor, "share_certificate", certificate, now=now, after={"shows_marks": shows_marks})
    return sharing


def _certificate(
    academy: Academy, enrolment: Enrolment, certified: Certified, actor: Membership, now: datetime
) -> Certificate:
    """Valid from now on, in whole seconds as signed tokens count them; not yet signed, not yet kept."""
    begins = now.replace(microsecond=0)
    newest = Certificate.objects.filter(academy=academy).order_by("-number").first()
    return Certificate(
        academy=academy,
        student_id=enrolment.student_id,
        enrolment=enrolment,
        number=newest.number + 1 if newest else 1,
        holder_name=certified.holder,
        content=content_of(certified),
        valid_from=begins,
        issued_by=actor,
        issued_at=begins,
    )


def _sign_and_keep(row: Certificate, chance: Random) -> None:
    key, row.key_thumbprint = signing_key(row.academy_id)
    row.code = code_from(chance.randbytes(RANDOM_BYTES))
    row.subject_id = UUID(int=chance.getrandbits(128), version=4)
    row.status_list, row.status_index = _list_place(row.academy_id, chance)
    row.token = sign(credential(facts_of(row)), key, kid_of_key(row.key_thumbprint))
    row.save()


def _list_place(academy_id: int, chance: Random) -> tuple[int, int]:
    """A place that nobody has, in a list with room; the academy is locked by the caller."""
    places = Certificate.objects.filter(academy=academy_id)
    newest = places.order_by("-status_list").values_list("status_list", flat=True).first() or FIRST_LIST
    taken = set(places.filter(status_list=newest).values_list("status_index", flat=True))
    if len(taken) >= LIST_HOLDS:
        newest, taken = newest + 1, set()
    return newest, draw_index(taken, chance)


def _happen(
    row: Certificate,
    kind: Kind,
    reason: str,
    actor: Membership,
    now: datetime,
    lifts: CertificateEvent | None = None,
) -> CertificateEvent:
    if not reason.strip():
        raise ReasonMissing
    event = CertificateEvent.objects.create(
        certificate=row, kind=kind, reason=reason.strip(), lifts=lifts, by=actor, at=now
    )
    if kind in ACTIONS:
        record(actor, ACTIONS[kind], row, now=now, reason=event.reason)
    return event


def _locked(certificate: Certificate) -> Certificate:
    """Two decisions at once: the later sees the earlier. Rows that only point here need not wait."""
    return Certificate.objects.select_for_update(no_key=True).get(pk=certificate.pk)


def _locked_student(student: Membership) -> Membership:
    """As she stands now, and nothing of hers changes meanwhile: not even her place here."""
    return Membership.objects.select_for_update(no_key=True).get(pk=student.pk)


def _locked_academy(academy_id: int) -> Academy:
    """Numbers and list places are given out one after the other."""
    return Academy.objects.select_for_update(no_key=True).get(pk=academy_id)


def _told(row: Certificate) -> dict[str, object]:
    return {"number": row.number, "enrolment": row.enrolment_id, "replaces": row.replaces_id}
