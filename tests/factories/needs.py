"""Needs asked for by hand, and the skills and drills they are about."""

from datetime import timedelta
from typing import Any

from academy.models import Membership
from assessments.models import Need
from assessments.services.needs import WantedNeed, raise_need
from courses.models import Drill, Skill
from courses.services.catalogue import load_catalogue
from tests.factories.assessments import STARTED


def make_need(student: Membership, educator: Membership, nth: int = 0, **changes: object) -> Need:
    """One for the nth skill of the catalogue, due a week after the first set of the tests."""
    load_catalogue()
    skills = list(Skill.objects.all())
    wanted: dict[str, Any] = {
        "skill": skills[nth % len(skills)],
        "reason": "She asked to go through it again.",
        "due_on": (STARTED + timedelta(days=7)).date(),
        "drill": Drill.objects.get(code="hold-and-check"),
        "count_target": 20,
        **changes,
    }
    existing = Need.objects.filter(
        student=student, skill=wanted["skill"], closed_at=None, kind="by_hand"
    ).first()
    if existing:
        return existing
    return raise_need(student=student, wanted=WantedNeed(**wanted), actor=educator, now=STARTED)
