from django.db.models import QuerySet

from academy.errors import NotHere
from academy.models import Academy, Cohort, Invitation, Membership, Role, User


def memberships_of(user: User) -> QuerySet[Membership]:
    """Where this person has a place today."""
    return Membership.objects.filter(user=user, left_at=None).select_related("academy", "user").order_by("id")


def members(academy: Academy, *roles: Role) -> QuerySet[Membership]:
    """Current members, by name; of the given roles or of any."""
    found = Membership.objects.filter(academy=academy, left_at=None).select_related("user", "cohort")
    return (found.filter(role__in=roles) if roles else found).order_by("user__name", "id")


def students(academy: Academy) -> QuerySet[Membership]:
    return members(academy, Role.STUDENT)


def member(academy: Academy, member_id: int, *roles: Role) -> Membership:
    """One current member of this academy; a foreign or unknown id is NotHere."""
    found = members(academy, *roles).filter(pk=member_id).first()
    if found is None:
        raise NotHere("person")
    return found


def cohorts(academy: Academy) -> QuerySet[Cohort]:
    return Cohort.objects.filter(academy=academy)


def cohort(academy: Academy, cohort_id: int) -> Cohort:
    found = cohorts(academy).filter(pk=cohort_id).first()
    if found is None:
        raise NotHere("cohort")
    return found


def open_invitations(academy: Academy) -> QuerySet[Invitation]:
    """Not yet taken up, not withdrawn; those that ran out are among them until withdrawn."""
    return Invitation.objects.filter(academy=academy, accepted_at=None, withdrawn_at=None).select_related(
        "invited_by__user", "cohort"
    )


def invitation(academy: Academy, invitation_id: int) -> Invitation:
    found = Invitation.objects.filter(academy=academy, pk=invitation_id).first()
    if found is None:
        raise NotHere("invitation")
    return found
