"""The cast: one academy, its people, and the outsider from next door."""

from dataclasses import dataclass
from datetime import UTC, date, datetime

from allauth.account.models import EmailAddress
from django.test import Client

from academy.models import Academy, Cohort, Membership, Role, User

JOINED = datetime(2026, 1, 12, 8, 0, tzinfo=UTC)
PASSWORD = "a quiet lamp over the bench"


@dataclass(frozen=True, slots=True)
class Cast:
    """All have a place in ``academy``, but ``omar`` and ``omar_student``: theirs is in ``other_academy``."""

    academy: Academy
    other_academy: Academy
    cohort: Cohort
    owner: Membership
    ines: Membership
    second: Membership
    ada: Membership
    bea: Membership
    omar: Membership
    omar_student: Membership


def make_academy(
    name: str = "Marram Lane Lash School", *, town: str = "Saltby", time_zone: str = "UTC"
) -> Academy:
    return Academy.objects.create(name=name, town=town, time_zone=time_zone)


def make_cohort(
    academy: Academy, name: str = "Spring evening", *, starts_on: date = date(2026, 1, 12)
) -> Cohort:
    return Cohort.objects.create(academy=academy, name=name, starts_on=starts_on)


def make_user(name: str, email: str = "", *, password: str | None = PASSWORD) -> User:
    """A person with a confirmed address; without ``email`` it is made from the name."""
    address = email or f"{name.lower().replace(' ', '.')}@people.example"
    user = User.objects.create_user(address, name, password)
    EmailAddress.objects.create(user=user, email=user.email, verified=True, primary=True)
    return user


def make_member(
    academy: Academy,
    name: str,
    role: Role = Role.STUDENT,
    *,
    cohort: Cohort | None = None,
    user: User | None = None,
    joined_at: datetime = JOINED,
) -> Membership:
    person = user or make_user(name)
    return Membership.objects.create(
        academy=academy, user=person, role=role, cohort=cohort, joined_at=joined_at
    )


def make_cast() -> Cast:
    academy = make_academy()
    other = make_academy("Tern Quay Lash Room", town="Ebbport")
    cohort = make_cohort(academy)
    return Cast(
        academy=academy,
        other_academy=other,
        cohort=cohort,
        owner=make_member(academy, "Wren Adair", Role.OWNER),
        ines=make_member(academy, "Ines Carvalho", Role.EDUCATOR),
        second=make_member(academy, "Tova Lind", Role.EDUCATOR),
        ada=make_member(academy, "Ada Marsh", cohort=cohort),
        bea=make_member(academy, "Bea Holm", cohort=cohort),
        omar=make_member(other, "Omar Sayle", Role.EDUCATOR),
        omar_student=make_member(other, "Una Pell"),
    )


def sign_in(client: Client, member: Membership) -> None:
    """Sign ``member`` in with this place chosen; no password, no second step."""
    client.force_login(member.user)
    session = client.session
    session["member_id"] = member.pk
    session.save()
