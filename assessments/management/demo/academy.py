"""Opens the demo's two academies: people, cohorts, heads, briefs and rubric, all through the services."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from django.contrib.auth.hashers import make_password

from academy.models import Cohort, Membership, Role, User
from academy.services.academies import AcademyDetails, add_cohort, open_academy
from academy.services.invitations import accept_invitation, invite_person
from assessments.management.demo import story
from assessments.services.competence import ensure_rules
from assessments.services.rubrics import install_starter_rubric
from assessments.services.second_choice import change_rate
from assessments.services.signing_keys import make_signing_key
from courses.models import BriefVersion
from courses.services.briefs import add_brief
from courses.services.catalogue import load_catalogue
from courses.services.heads import HeadContent, add_head
from courses.services.programmes import install_starter_programme

STRIPS_FITTED_BEFORE = timedelta(days=9)


@dataclass(frozen=True, slots=True)
class School:
    """The demo academy, opened; people by e-mail address, briefs by name, class times by cohort."""

    owner: Membership
    educators: tuple[Membership, ...]
    strictness: Mapping[int, float]
    students: Mapping[str, Membership]
    briefs: Mapping[str, BriefVersion]
    starts: Mapping[str, time]


def open_school(now: datetime) -> School:
    """The academy as it stood before its first set, ``opened_days_ago`` before ``now``."""
    load_catalogue()
    told = story.school()
    opened = now - timedelta(days=told["opened_days_ago"])
    owner = _open(told["academy"], told["owner"], opened)
    cohorts = {row["name"]: _add_cohort(owner, row, now, opened) for row in told["cohorts"]}
    install_starter_rubric(academy=owner.academy, actor=owner, now=opened)
    ensure_rules(academy=owner.academy, now=opened)
    change_rate(actor=owner, now=opened, **told["second_marks"])
    _add_heads(owner, told["heads"], opened)
    educators = [_join(owner, each.name, each.email, Role.EDUCATOR, opened) for each in story.educators()]
    return School(
        owner=owner,
        educators=tuple(educators),
        strictness={
            member.pk: each.strictness for member, each in zip(educators, story.educators(), strict=True)
        },
        students=_add_students(owner, cohorts, told["cohorts"], now),
        briefs={
            content.name: add_brief(academy=owner.academy, content=content, actor=owner, now=opened)
            for content in story.briefs()
        },
        starts={row["name"]: time.fromisoformat(row["starts_at"]) for row in told["cohorts"]},
    )


def open_neighbour(now: datetime) -> School:
    """A second academy, whose people must see nothing of the first."""
    told = story.school()["neighbour"]
    opened = now - timedelta(days=30)
    owner = _open(told["academy"], told["owner"], opened)
    install_starter_rubric(academy=owner.academy, actor=owner, now=opened)
    ensure_rules(academy=owner.academy, now=opened)
    install_starter_programme(academy=owner.academy, actor=owner, now=opened)
    _add_heads(owner, [told["head"]], opened)
    content = story.briefs()[0]
    email = told["student"]["email"]
    return School(
        owner=owner,
        educators=(owner,),
        strictness={owner.pk: 0.0},
        students={email: _join(owner, told["student"]["name"], email, Role.STUDENT, opened)},
        briefs={content.name: add_brief(academy=owner.academy, content=content, actor=owner, now=opened)},
        starts={},
    )


def invite_newcomer(school: School, now: datetime) -> None:
    """One invitation stays open, for the people page to show."""
    told = story.school()["invited"]
    cohort = Cohort.objects.get(academy=school.owner.academy, name=told["cohort"])
    invite_person(
        actor=school.owner, name=told["name"], email=told["email"], role=Role.STUDENT, cohort=cohort, now=now
    )


def give_passwords(academy_ids: list[int]) -> None:
    """One password for everyone in the demo; hashed once, because hashing is slow on purpose."""
    hashed = make_password(story.school()["password"])
    User.objects.filter(memberships__academy__in=academy_ids).update(password=hashed)


def _open(details: dict[str, Any], owner: dict[str, Any], now: datetime) -> Membership:
    member = open_academy(
        details=AcademyDetails(**details), owner_name=owner["name"], owner_email=owner["email"], now=now
    )
    make_signing_key(academy=member.academy, actor=member, now=now)
    return member


def _add_cohort(owner: Membership, row: dict[str, Any], now: datetime, opened: datetime) -> Cohort:
    starts_on = owner.academy.date_of(now - timedelta(days=row["started_days_ago"]))
    return add_cohort(actor=owner, name=row["name"], starts_on=starts_on, ends_on=None, now=opened)


def _add_heads(owner: Membership, rows: list[dict[str, Any]], opened: datetime) -> None:
    fitted_on = owner.academy.date_of(opened - STRIPS_FITTED_BEFORE)
    for row in rows:
        add_head(
            academy=owner.academy,
            content=HeadContent(**row, strip_fitted_on=fitted_on),
            actor=owner,
            now=opened,
        )


def _add_students(
    owner: Membership, cohorts: Mapping[str, Cohort], rows: list[dict[str, Any]], now: datetime
) -> dict[str, Membership]:
    started = {row["name"]: now - timedelta(days=row["started_days_ago"]) for row in rows}
    return {
        pupil.email: _join(
            owner, pupil.name, pupil.email, Role.STUDENT, started[pupil.cohort], cohorts[pupil.cohort]
        )
        for pupil in story.pupils()
    }


def _join(
    owner: Membership, name: str, email: str, role: Role, now: datetime, cohort: Cohort | None = None
) -> Membership:
    """Invited a day earlier, accepted at ``now``."""
    invitation = invite_person(
        actor=owner, name=name, email=email, role=role, cohort=cohort, now=now - timedelta(days=1)
    )
    return accept_invitation(invitation=invitation, user=None, now=now)
