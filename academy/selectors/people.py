"""Questions to the database about people; every one is bound to an academy."""

from allauth.account.models import EmailAddress
from django.db.models import Case, Count, F, IntegerField, Q, QuerySet, Value, When

from academy.errors import NotHere
from academy.models import Academy, Cohort, Membership, Role, User

_ROLE_ORDER = Case(
    *(When(role=role, then=Value(rank)) for rank, role in enumerate(Role.values)), output_field=IntegerField()
)


def memberships_of(user: User) -> QuerySet[Membership]:
    """Where this person has a place today."""
    return Membership.objects.filter(user=user, left_at=None).select_related("academy", "user").order_by("id")


def members(academy: Academy, *roles: Role) -> QuerySet[Membership]:
    """Current members, by name; of the given roles or of any."""
    found = Membership.objects.filter(academy=academy, left_at=None).select_related("user", "cohort")
    return (found.filter(role__in=roles) if roles else found).order_by("user__name", "id")


def students(academy: Academy) -> QuerySet[Membership]:
    return members(academy, Role.STUDENT)


def people(academy: Academy, search: str = "") -> QuerySet[Membership]:
    """Current members by role, newest cohort and name; those whose name or address holds ``search``."""
    found = members(academy)
    if search:
        found = found.filter(Q(user__name__icontains=search) | Q(user__email__icontains=search))
    return found.order_by(_ROLE_ORDER, F("cohort__starts_on").desc(nulls_last=True), "user__name", "id")


def member(academy: Academy, member_id: int, *roles: Role) -> Membership:
    """One current member of this academy; a foreign or unknown id is NotHere."""
    found = members(academy, *roles).filter(pk=member_id).first()
    if found is None:
        raise NotHere("person")
    return found


def cohorts(academy: Academy) -> QuerySet[Cohort]:
    return Cohort.objects.filter(academy=academy)


def cohorts_with_sizes(academy: Academy) -> QuerySet[Cohort]:
    """Cohorts, newest first, each with ``size``: its students of today."""
    return cohorts(academy).annotate(size=Count("memberships", filter=Q(memberships__left_at=None)))


def cohort(academy: Academy, cohort_id: int) -> Cohort:
    found = cohorts(academy).filter(pk=cohort_id).first()
    if found is None:
        raise NotHere("cohort")
    return found


def person_at(address: str) -> User | None:
    """Who signs in with this address, in whatever case it is written. Up to two queries."""
    confirmed = (
        EmailAddress.objects.filter(email__iexact=address, verified=True).select_related("user").first()
    )
    owner: User | None = confirmed.user if confirmed else User.objects.filter(email__iexact=address).first()
    return owner
