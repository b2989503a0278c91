from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from academy.errors import Conflict, DomainError, NotHere
from academy.jobs import enqueue
from academy.models import Membership
from academy.services import audit
from courses.models import Enrolment, HoursEntry, ProgrammeUnit
from courses.models.enrolments import DAY_MINUTES
from courses.selectors.enrolments import open_enrolment
from courses.selectors.hours import minutes_on
from courses.services.enrolments import EnrolmentEnded, ReasonMissing, locked_enrolment


@dataclass(frozen=True, slots=True)
class HoursContent:
    """What a person enters about hours of one day; ``kind`` is a HoursKind."""

    kind: str
    minutes: int
    on: date
    unit: ProgrammeUnit | None = None
    note: str = ""


class HoursFromTheFuture(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "hours_from_the_future",
            "This day is still to come. Enter hours once they have been attended.",
            field="on",
        )


class NoTimeEntered(DomainError):
    def __init__(self) -> None:
        super().__init__("no_time_entered", "Enter how long it was, at least 1 minute.", field="minutes")


class MoreThanADay(DomainError):
    def __init__(self, day: date, already: int) -> None:
        super().__init__(
            "more_than_a_day",
            f"{day.day} {day:%B %Y} already has {already // 60} h {already % 60:02d} min. "
            "With this entry it would hold more than 24 hours. Correct the time or the day.",
            field="minutes",
        )


class HoursAlreadyCorrected(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "hours_already_corrected",
            "Somebody has corrected this entry in the meantime. Go back and correct the newer one.",
        )


class HoursOfOneRefused(DomainError):
    def __init__(self, student: Membership, error: DomainError) -> None:
        super().__init__(error.code, f"{student.name}: {error.message}", **error.details)


@transaction.atomic
def enter_hours(
    *, enrolment: Enrolment, content: HoursContent, actor: Membership, now: datetime
) -> HoursEntry:
    row = locked_enrolment(enrolment)
    if content.minutes < 1:
        raise NoTimeEntered
    _check(row, content, now, already=minutes_on(row, content.on))
    entry = _new(row, content, actor, now)
    entry.save()
    audit.record(actor, "enter_hours", entry, now=now, after=_told(entry))
    enqueue("assessments.tasks.watch_gate", student_id=row.student_id)
    return entry


@transaction.atomic
def enter_group_hours(
    *, students: Iterable[Membership], content: HoursContent, actor: Membership, now: datetime
) -> list[HoursEntry]:
    """The same hours for everyone who was there: for all of them or, when one is refused, for nobody."""
    entries = []
    for student in students:
        try:
            entries.append(_enter_for(student, content, actor, now))
        except DomainError as error:
            raise HoursOfOneRefused(student, error) from error
    return entries


@transaction.atomic
def correct_hours(
    *, entry: HoursEntry, content: HoursContent, reason: str, actor: Membership, now: datetime
) -> HoursEntry:
    """A new row that counts instead of ``entry``, also after the enrolment ended; 0 minutes takes it back."""
    row = _held(entry)
    if not reason.strip():
        raise ReasonMissing
    gone = entry.minutes if entry.on == content.on else 0
    _check(row, content, now, already=minutes_on(row, content.on) - gone)
    new = _new(row, content, actor, now)
    new.corrects, new.reason = entry, reason.strip()
    new.save()
    before, after = _told(entry), _told(new)
    audit.record(actor, "correct_hours", new, now=now, reason=new.reason, before=before, after=after)
    enqueue("assessments.tasks.watch_gate", student_id=row.student_id)
    return new


def _enter_for(student: Membership, content: HoursContent, actor: Membership, now: datetime) -> HoursEntry:
    enrolment = open_enrolment(student)
    if enrolment is None:
        raise EnrolmentEnded
    return enter_hours(enrolment=enrolment, content=content, actor=actor, now=now)


def _held(entry: HoursEntry) -> Enrolment:
    """One entry of an enrolment at a time: nobody corrects the same one twice, and a day's total is true."""
    Enrolment.objects.select_for_update().get(pk=entry.enrolment_id)
    enrolment = Enrolment.objects.select_related("version", "student__academy").get(pk=entry.enrolment_id)
    if HoursEntry.objects.filter(corrects=entry).exists():
        raise HoursAlreadyCorrected
    return enrolment


def _new(enrolment: Enrolment, content: HoursContent, actor: Membership, now: datetime) -> HoursEntry:
    return HoursEntry(
        enrolment=enrolment,
        kind=content.kind,
        minutes=content.minutes,
        on=content.on,
        unit=content.unit,
        note=content.note.strip(),
        entered_by=actor,
        at=now,
    )


def _check(enrolment: Enrolment, content: HoursContent, now: datetime, *, already: int) -> None:
    if content.on > enrolment.student.academy.date_of(now):
        raise HoursFromTheFuture
    if content.minutes + already > DAY_MINUTES:
        raise MoreThanADay(content.on, already)
    if content.unit and not _belongs(content.unit, enrolment):
        raise NotHere("unit of this student's programme")


def _belongs(unit: ProgrammeUnit, enrolment: Enrolment) -> bool:
    """A unit of an earlier version stays with the hours that were spent on it."""
    return unit.version.programme_id == enrolment.version.programme_id


def _told(entry: HoursEntry) -> dict[str, object]:
    return {
        "enrolment": entry.enrolment_id,
        "kind": entry.kind,
        "minutes": entry.minutes,
        "on": entry.on.isoformat(),
        "unit": entry.unit_id,
    }
