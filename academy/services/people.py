"""Changes to people and their places."""

import re
from datetime import datetime

from allauth.account.models import EmailAddress
from django.db import IntegrityError, transaction

from academy.errors import Conflict, DomainError
from academy.models import Academy, Cohort, Membership, Role, User
from academy.selectors import people
from academy.services.audit import record

NAME_LENGTH = 120
# Line ends would reach the headers of letters; direction marks can make one name look like another.
_NOT_IN_A_NAME = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


class NameNotUsable(DomainError):
    def __init__(self, message: str) -> None:
        super().__init__("name_not_usable", message, field="name")


class LastOwner(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "last_owner",
            "This is the only owner of the academy. Make somebody else an owner first.",
            field="role",
        )


class AddressTaken(Conflict):
    def __init__(self) -> None:
        super().__init__("address_taken", "There is already an account with this address. Sign in with it.")


def clean_name(name: str) -> str:
    """The name without blanks around it; refuses what cannot be written on one line."""
    trimmed = name.strip()
    if not trimmed:
        raise NameNotUsable("Write the person's name.")
    if len(trimmed) > NAME_LENGTH:
        raise NameNotUsable(f"This name has {len(trimmed)} characters. Shorten it to {NAME_LENGTH} or fewer.")
    if _NOT_IN_A_NAME.search(trimmed):
        raise NameNotUsable(
            "This name holds a line end or an invisible character. Type it again on one line."
        )
    return trimmed


@transaction.atomic
def add_person(*, email: str, name: str, password: str | None) -> User:
    """A new account with a confirmed address; without a password it signs in with codes sent there."""
    try:
        with transaction.atomic():
            user = User.objects.create_user(email, clean_name(name), password)
    except IntegrityError as error:
        raise AddressTaken from error
    EmailAddress.objects.create(user=user, email=user.email, verified=True, primary=True)
    return user


@transaction.atomic
def take_place(
    *, academy: Academy, user: User, role: Role, cohort: Cohort | None, now: datetime
) -> Membership:
    """Give ``user`` a place; somebody who had left takes up the old one, so that the marks stay together."""
    place, _ = Membership.objects.update_or_create(
        academy=academy,
        user=user,
        defaults={"role": role, "cohort": cohort_for(role, cohort), "left_at": None},
        create_defaults={"role": role, "cohort": cohort_for(role, cohort), "joined_at": now},
    )
    return place


@transaction.atomic
def change_role(
    *, actor: Membership, member: Membership, role: Role, cohort: Cohort | None, now: datetime
) -> Membership:
    """Give ``member`` another role or cohort; the last owner stays owner."""
    place = _locked(member)
    before = _place(place)
    if place.role == Role.OWNER and role != Role.OWNER:
        _refuse_last_owner(place)
    place.role, place.cohort = role, cohort_for(role, cohort)
    if _place(place) != before:
        place.save(update_fields=["role", "cohort"])
        record(actor, "change_role", place, now=now, before=before, after=_place(place))
    return place


@transaction.atomic
def end_membership(*, actor: Membership, member: Membership, now: datetime) -> None:
    """``member`` has no place here from now on; marks and records stay. Doing it twice changes nothing."""
    place = _locked(member)
    if not place.is_current:
        return
    if place.role == Role.OWNER:
        _refuse_last_owner(place)
    place.left_at = now
    place.save(update_fields=["left_at"])
    record(actor, "end_membership", place, now=now, before=_place(place))


def cohort_for(role: Role, cohort: Cohort | None) -> Cohort | None:
    """Only students belong to a cohort."""
    return cohort if role == Role.STUDENT else None


def _locked(member: Membership) -> Membership:
    # The academy's row is the lock: two owners who demote each other at once must wait for one another.
    Academy.objects.select_for_update().get(pk=member.academy_id)
    return Membership.objects.select_for_update().get(pk=member.pk)


def _refuse_last_owner(owner: Membership) -> None:
    if not people.members(owner.academy, Role.OWNER).exclude(pk=owner.pk).exists():
        raise LastOwner


def _place(member: Membership) -> dict[str, object]:
    return {"role": member.role, "cohort": member.cohort_id}
