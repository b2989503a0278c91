"""What every page knows: whose place it is and where they may go."""

import time
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from academy.access import session_left
from academy.models import Membership, Role


@dataclass(frozen=True, slots=True)
class Link:
    label: str
    url: str
    current: bool


STAFF_PAGES = (
    ("Today", "assessments:today"),
    ("Students", "assessments:student-list"),
    ("Briefs", "courses:brief-list"),
    ("Rota", "courses:rota"),
    ("Heads", "courses:head-list"),
    ("Rubrics", "assessments:rubric-list"),
    ("Certificates", "assessments:certificate-list"),
    ("Agreement", "assessments:agreement"),
)
OWNER_PAGES = (*STAFF_PAGES, ("People", "academy:people"))
STUDENT_PAGES = (
    ("Where I stand", "assessments:stand"),
    ("Next practice", "assessments:next"),
    ("Readiness", "assessments:my-readiness"),
    ("My sets", "assessments:my-sets"),
    ("My times", "courses:my-times"),
    ("My certificates", "assessments:my-certificates"),
)
PAGES = {Role.OWNER: OWNER_PAGES, Role.EDUCATOR: STAFF_PAGES, Role.STUDENT: STUDENT_PAGES}


def house(request: HttpRequest) -> dict[str, Any]:
    member: Membership | None = getattr(request, "member", None)
    if not member:
        return {"member": None, "navigation": []}
    links = _links(Role(member.role))
    navigation = [Link(label, url, request.path.startswith(url)) for label, url in links]
    left = session_left(request, int(time.time()))
    return {
        "member": member,
        "navigation": navigation,
        "session_left": left,
        "warn_s": settings.SESSION_WARN_S,
    }


@cache
def _links(role: Role) -> tuple[tuple[str, str], ...]:
    return tuple((label, reverse(name)) for label, name in PAGES[role])
