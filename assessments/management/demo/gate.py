"""One student of the demo stands before the gate; another has passed it and holds a certificate."""

from datetime import datetime, timedelta
from random import Random
from typing import Any

from academy.models import Membership
from academy.services.consents import answer_consent
from assessments.management.demo import story
from assessments.management.demo.academy import School
from assessments.selectors.readiness import readiness_of
from assessments.services.certificates import issue_certificate
from assessments.services.competence import change_mastery
from assessments.services.gate import sign_gate, watch_gate

SIGNED_BEFORE, ISSUED_BEFORE = timedelta(hours=20), timedelta(hours=3)


def set_mastery(school: School, opened: datetime) -> None:
    """A bare lash carries no fan, so this school asks for a few fans fewer than three full looks."""
    told = story.school()["mastery"]
    change_mastery(academy=school.owner.academy, conditions=told, actor=school.owner, now=opened)


def tell_gate(school: School, now: datetime) -> None:
    """Both through the services: whoever does not meet a condition is refused here as anywhere."""
    told: dict[str, Any] = story.school()["gate"]
    for email, purposes in told["consents"].items():
        _consent(school.students[email], purposes, now - SIGNED_BEFORE)
    certified, educator = school.students[told["certified"]], school.educators[0]
    for actor in (certified, educator):
        at = now - SIGNED_BEFORE
        seen = readiness_of(certified, now=at).basis
        sign_gate(student=certified, actor=actor, seen=seen, now=at)
    chance = Random(told["code"])  # noqa: S311  # a story, not a secret
    issue_certificate(student=certified, actor=educator, now=now - ISSUED_BEFORE, chance=chance)
    for student in school.students.values():
        watch_gate(student=student, now=now)


def _consent(student: Membership, purposes: list[str], at: datetime) -> None:
    for purpose in purposes:
        answer_consent(member=student, purpose=purpose, given=True, actor=student, now=at)
