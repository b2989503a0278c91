"""The demo's programme: two published versions, everybody enrolled, invented hours and sign-offs."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from academy.models import Membership
from assessments.management.demo import story
from assessments.management.demo.academy import School
from courses.models import Enrolment, HoursEntry, ProgrammeVersion
from courses.programme.content import ProgrammeContent, Unit
from courses.selectors.enrolments import open_enrolment
from courses.services.enrolments import enrol, move_enrolment
from courses.services.hours import HoursContent, correct_hours, enter_hours
from courses.services.programmes import (
    change_programme_draft,
    copy_programme_version,
    install_starter_programme,
    publish_programme_version,
)
from courses.services.sign_offs import sign_off


def tell_programme(school: School, now: datetime) -> None:
    """Each cohort attended from its first day on; units are signed off as far as it has come."""
    told = story.school()["programme"]
    opened = now - timedelta(days=story.school()["opened_days_ago"])
    draft = install_starter_programme(academy=school.owner.academy, actor=school.owner, now=opened)
    first = _publish(school.owner, draft, _first(draft.content, told, school.owner, opened), opened)
    educator = school.educators[0]
    for student in school.students.values():
        enrolment = enrol(student=student, version=first, actor=school.owner, now=student.joined_at)
        _attend(enrolment, educator, told["attended"], now)
        _sign(enrolment, educator, told["signed_off"], now)
    _hold_back(school, told["held_back"])
    _correct(school, told["corrected"], now)
    _second_version(school, first, told["second_version"], now)


def _first(
    content: ProgrammeContent, told: dict[str, Any], owner: Membership, opened: datetime
) -> ProgrammeContent:
    return replace(
        content,
        theory_hours=Decimal(told["theory_hours"]),
        practical_hours=Decimal(told["practical_hours"]),
        hours_source=told["hours_source"],
        hours_source_on=owner.academy.date_of(opened),
        certificate=replace(content.certificate, scope=told["scope"]),
    )


def _publish(
    owner: Membership, draft: ProgrammeVersion, content: ProgrammeContent, now: datetime
) -> ProgrammeVersion:
    change_programme_draft(version=draft, content=content, actor=owner, now=now)
    return publish_programme_version(version=draft, actor=owner, now=now)


def _attend(enrolment: Enrolment, educator: Membership, told: list[dict[str, Any]], now: datetime) -> None:
    for row, at in _until(now, enrolment, told):
        content = HoursContent(row["kind"], row["minutes"], educator.academy.date_of(at), note=row["note"])
        enter_hours(enrolment=enrolment, content=content, actor=educator, now=at)


def _sign(enrolment: Enrolment, educator: Membership, told: list[dict[str, Any]], now: datetime) -> None:
    units = {unit.code: unit for unit in enrolment.version.units.all()}
    for row, at in _until(now, enrolment, told):
        seen = [units[code] for code in row["units"]]
        sign_off(enrolment=enrolment, units=seen, passed=True, actor=educator, now=at)


def _until(
    now: datetime, enrolment: Enrolment, told: list[dict[str, Any]]
) -> Iterator[tuple[dict[str, Any], datetime]]:
    """What has happened by ``now``, and when: days are counted from the enrolment."""
    for row in told:
        at = enrolment.enrolled_at + timedelta(days=row["day"])
        if at <= now:
            yield row, at


def _hold_back(school: School, told: dict[str, Any]) -> None:
    enrolment = _of(school, told["email"])
    sign_off(
        enrolment=enrolment,
        units=[enrolment.version.units.get(code=told["unit"])],
        passed=False,
        note=told["note"],
        actor=school.educators[1],
        now=enrolment.enrolled_at + timedelta(days=told["day"]),
    )


def _correct(school: School, told: dict[str, Any], now: datetime) -> None:
    entry = HoursEntry.objects.filter(enrolment=_of(school, told["email"])).order_by("id")[0]
    content = HoursContent(entry.kind, told["minutes"], entry.on, note=entry.note)
    correct_hours(
        entry=entry,
        content=content,
        reason=told["reason"],
        actor=school.educators[0],
        now=min(now, entry.at + timedelta(days=1)),
    )


def _second_version(school: School, first: ProgrammeVersion, told: dict[str, Any], now: datetime) -> None:
    at = now - timedelta(days=told["published_days_ago"])
    draft = copy_programme_version(version=first, actor=school.owner, now=at)
    content = draft.content
    changed = replace(
        content,
        practical_hours=Decimal(told["practical_hours"]),
        units=(*content.units, Unit(told["unit"], "theory", before_live=True)),
        gate=replace(content.gate, graded_sets=told["graded_sets"]),
    )
    second = _publish(school.owner, draft, changed, at)
    enrolment = _of(school, told["moved"])
    move_enrolment(enrolment=enrolment, version=second, reason=told["reason"], actor=school.owner, now=at)


def _of(school: School, email: str) -> Enrolment:
    enrolment = open_enrolment(school.students[email])
    if enrolment is None:
        raise LookupError(f"{email} is on no programme")
    return enrolment
