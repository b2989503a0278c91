"""Places offered by e-mail: offered, sent again, withdrawn, taken up."""

from datetime import datetime

from django.conf import settings
from django.db import IntegrityError, transaction

from academy.errors import Conflict, Denied, DomainError
from academy.jobs import enqueue
from academy.models import Academy, Cohort, Invitation, Membership, Role, User
from academy.selectors.invitations import check_open, invitation_token, token_digest
from academy.selectors.people import memberships_of, person_at
from academy.services.audit import record
from academy.services.people import add_person, clean_name, cohort_for, take_place


class AlreadyHere(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "already_here",
            "Somebody with this address already has a place here. Change their role in the list of people.",
            field="email",
        )


class AlreadyInvited(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "already_invited",
            "This address has an open invitation. Send that one again, or withdraw it first.",
            field="email",
        )


class InvitationClosed(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "invitation_closed", "This invitation was accepted or withdrawn meanwhile. Look again."
        )


class SignInFirst(Denied):
    def __init__(self) -> None:
        super().__init__("sign_in_first", "You already have an account with this address. Sign in to accept.")


class NotYourInvitation(Denied):
    def __init__(self) -> None:
        super().__init__(
            "not_your_invitation",
            "This invitation is for another address. Sign out, then open the link again.",
        )


@transaction.atomic
def invite_person(
    *, actor: Membership, name: str, email: str, role: Role, cohort: Cohort | None, now: datetime
) -> Invitation:
    """Offer a place in the actor's academy; the letter follows."""
    address = email.strip().lower()
    _refuse_member(person_at(address), actor.academy)
    invitation = Invitation(
        academy=actor.academy,
        email=address,
        name=clean_name(name),
        role=role,
        cohort=cohort_for(role, cohort),
        invited_by=actor,
    )
    _offer(invitation, now)
    try:
        with transaction.atomic():
            invitation.save()
    except IntegrityError as error:
        raise AlreadyInvited from error
    record(actor, "invite_person", invitation, now=now, after=_offered(invitation))
    enqueue("academy.tasks.send_invitation", invitation_id=invitation.pk)
    return invitation


@transaction.atomic
def renew_invitation(*, actor: Membership, invitation: Invitation, now: datetime) -> Invitation:
    """Send it again with a new link and a new last day; the old link stops working."""
    row = _locked_open(invitation)
    _offer(row, now)
    row.save(update_fields=["invited_at", "expires_at", "token_digest"])
    record(actor, "renew_invitation", row, now=now)
    enqueue("academy.tasks.send_invitation", invitation_id=row.pk)
    return row


@transaction.atomic
def withdraw_invitation(*, actor: Membership, invitation: Invitation, now: datetime) -> None:
    row = _locked_open(invitation)
    row.withdrawn_at = now
    row.save(update_fields=["withdrawn_at"])
    record(actor, "withdraw_invitation", row, now=now)


@transaction.atomic
def accept_invitation(
    *, invitation: Invitation, user: User | None, name: str = "", password: str | None = None, now: datetime
) -> Membership:
    """Give the place to ``user``, or to a new account when nobody has this address yet.

    Whoever holds the link has received the letter, so the address of a new account counts as confirmed.
    """
    row = (
        Invitation.objects.select_for_update(of=("self",))
        .select_related("academy", "cohort")
        .get(pk=invitation.pk)
    )
    check_open(row, now=now)
    known = person_at(row.email)
    if user is None and known:
        raise SignInFirst
    if user is not None and user != known:
        raise NotYourInvitation
    _refuse_member(known, row.academy)
    person = known or add_person(email=row.email, name=name or row.name, password=password)
    place = take_place(academy=row.academy, user=person, role=Role(row.role), cohort=row.cohort, now=now)
    row.accepted_at = now
    row.save(update_fields=["accepted_at"])
    record(place, "accept_invitation", row, now=now, after={**_offered(row), "member": place.pk})
    return place


def _refuse_member(person: User | None, academy: Academy) -> None:
    if person and memberships_of(person).filter(academy=academy).exists():
        raise AlreadyHere


def _offer(invitation: Invitation, now: datetime) -> None:
    invitation.invited_at, invitation.expires_at = now, now + settings.INVITATION_LIFETIME
    invitation.token_digest = token_digest(invitation_token(invitation))


def _locked_open(invitation: Invitation) -> Invitation:
    row = Invitation.objects.select_for_update().get(pk=invitation.pk)
    if row.accepted_at or row.withdrawn_at:
        raise InvitationClosed
    return row


def _offered(invitation: Invitation) -> dict[str, object]:
    return {"role": invitation.role, "cohort": invitation.cohort_id}
