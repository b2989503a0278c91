"""The catalogue and the starter rubric, through the services."""

from datetime import UTC, datetime

from academy.models import Academy, Membership
from assessments.models import RubricVersion
from assessments.services.rubrics import copy_rubric_version, install_starter_rubric
from courses.models import Skill
from courses.services.catalogue import load_catalogue

PUBLISHED_AT = datetime(2026, 1, 12, 9, 0, tzinfo=UTC)


def starter_rubric(academy: Academy, actor: Membership, *, now: datetime = PUBLISHED_AT) -> RubricVersion:
    """Published; loads the catalogue when it is not there yet."""
    if not Skill.objects.exists():
        load_catalogue()
    return install_starter_rubric(academy=academy, actor=actor, now=now)


def rubric_draft(academy: Academy, actor: Membership, *, now: datetime = PUBLISHED_AT) -> RubricVersion:
    """A draft with everything of the starter rubric in it."""
    return copy_rubric_version(version=starter_rubric(academy, actor, now=now), actor=actor, now=now)
