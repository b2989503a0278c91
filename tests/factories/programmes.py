"""Programmes, enrolments and hours, made through the services."""

from dataclasses import replace
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

from academy.models import Membership
from courses.models import Enrolment, HoursEntry, ProgrammeVersion
from courses.programme.content import CertificateRules, Gate, ProgrammeContent, Unit
from courses.services.enrolments import enrol
from courses.services.hours import HoursContent, enter_hours
from courses.services.programmes import (
    add_programme,
    change_programme_draft,
    copy_programme_version,
    publish_programme_version,
)
from tests.factories.academy import JOINED

HYGIENE = Unit("Hygiene and disinfection", "theory", before_live=True, code="hygiene")
REMOVAL = Unit("Removal on a mannequin head", "practical", before_live=True, code="removal")
INFILL = Unit("Infill", "practical", code="infill")
ATTENDED = date(2026, 1, 12)


def programme_content(**changes: Any) -> ProgrammeContent:
    """Three units, 10 theory and 20 practical hours, and the usual rules."""
    content = ProgrammeContent(
        units=(HYGIENE, REMOVAL, INFILL),
        theory_hours=Decimal(10),
        practical_hours=Decimal(20),
        hours_source="Invented for a test",
        hours_source_on=date(2026, 1, 5),
        gate=Gate(),
        certificate=CertificateRules(scope="Classic singles on mannequin heads"),
    )
    return replace(content, **changes)


def make_programme_draft(
    owner: Membership, name: str = "Foundation course", *, now: datetime = JOINED, **changes: Any
) -> ProgrammeVersion:
    draft = add_programme(academy=owner.academy, name=name, actor=owner, now=now)
    content = programme_content(**changes)
    return change_programme_draft(version=draft, content=content, actor=owner, now=now)


def make_programme(
    owner: Membership, name: str = "Foundation course", *, now: datetime = JOINED, **changes: Any
) -> ProgrammeVersion:
    """Published."""
    draft = make_programme_draft(owner, name, now=now, **changes)
    return publish_programme_version(version=draft, actor=owner, now=now)


def next_version(
    version: ProgrammeVersion, owner: Membership, *, now: datetime = JOINED, **changes: Any
) -> ProgrammeVersion:
    """The version after it, published, with ``changes`` to what it says."""
    draft = copy_programme_version(version=version, actor=owner, now=now)
    content = replace(draft.content, **changes)
    change_programme_draft(version=draft, content=content, actor=owner, now=now)
    return publish_programme_version(version=draft, actor=owner, now=now)


def make_enrolment(
    student: Membership, owner: Membership, version: ProgrammeVersion | None = None
) -> Enrolment:
    """On a programme of its own when no ``version`` is given."""
    chosen = version or make_programme(owner, f"Course of {student.name}")
    return enrol(student=student, version=chosen, actor=owner, now=JOINED)


def make_hours(
    enrolment: Enrolment,
    educator: Membership,
    *,
    kind: str = "theory",
    minutes: int = 120,
    on: date = ATTENDED,
    note: str = "",
) -> HoursEntry:
    """Entered on the evening of the day."""
    content = HoursContent(kind=kind, minutes=minutes, on=on, note=note)
    evening = datetime.combine(on, time(20), tzinfo=UTC)
    return enter_hours(enrolment=enrolment, content=content, actor=educator, now=evening)
