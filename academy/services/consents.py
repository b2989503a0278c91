from datetime import datetime

from django.db import transaction

from academy.errors import Denied, DomainError
from academy.jobs import enqueue
from academy.models import Consent, Membership, Purpose
from academy.selectors.consents import consents_of
from academy.services.audit import record
from academy.words import NEWEST_WORDING


class NotYoursToGive(Denied):
    def __init__(self) -> None:
        super().__init__(
            "not_yours_to_give",
            "A consent is given and withdrawn only by the person herself, on her own page.",
        )


class UnknownPurpose(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "unknown_purpose",
            "Choose one of the consents on the page; this one is not asked for.",
            field="purpose",
        )


@transaction.atomic
def answer_consent(
    *, member: Membership, purpose: str, given: bool, actor: Membership, now: datetime
) -> Consent | None:
    """Keep a yes or no in today's wording; the answer that already counts changes nothing and gives None."""
    if actor.pk != member.pk:
        raise NotYoursToGive
    if purpose not in Purpose.values:
        raise UnknownPurpose
    Membership.objects.select_for_update().get(pk=member.pk)  # an answer and a signature: one after the other
    before = consents_of(member)[purpose]
    if before.newest and before.given == given and before.newest.wording_version == NEWEST_WORDING:
        return None
    if before.newest is None and not given:
        return None
    answer = Consent.objects.create(
        member=member, purpose=purpose, wording_version=NEWEST_WORDING, given=given, recorded_by=actor, at=now
    )
    record(actor, "answer_consent", answer, now=now, after={"purpose": purpose, "given": given})
    enqueue("assessments.tasks.watch_gate", student_id=member.pk)
    return answer
