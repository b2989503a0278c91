"""When a student can come: her usual week, and days that differ."""

from collections.abc import Iterable
from datetime import date, datetime, time

from django.db import transaction

from academy.errors import DomainError
from academy.models import Membership
from academy.services.audit import record
from courses.models import FreeException, FreeHours

LAST_HOUR = 23


class DayIsOver(DomainError):
    def __init__(self) -> None:
        super().__init__("day_is_over", "This day is over. Choose one that is still to come.", field="on")


class EndsBeforeItStarts(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "ends_before_it_starts", "Until must be later than from. Correct one of the two.", field="ends"
        )


@transaction.atomic
def set_usual_week(*, student: Membership, hours: Iterable[tuple[int, int]], now: datetime) -> None:
    """Replaces the old week. ``hours``: (weekday, hour of the day) of each whole hour she can come at."""
    FreeHours.objects.filter(student=student).delete()
    rows = [
        FreeHours(student=student, weekday=weekday, starts=time(first), ends=_end(last))
        for weekday, first, last in _runs(sorted(set(hours)))
    ]
    FreeHours.objects.bulk_create(rows)
    record(student, "set_usual_week", student, now=now, after={"hours": [str(row) for row in rows]})


@transaction.atomic
def set_exception(
    *, student: Membership, on: date, starts: time | None, ends: time | None, now: datetime
) -> FreeException:
    """On this one day she can come from ``starts`` until ``ends``, or not at all when both are None."""
    if on < student.academy.date_of(now):
        raise DayIsOver
    if (starts is None) != (ends is None) or (starts and ends and ends <= starts):
        raise EndsBeforeItStarts
    row, _ = FreeException.objects.update_or_create(
        student=student, on=on, defaults={"starts": starts, "ends": ends}
    )
    record(student, "set_exception", row, now=now, after={"on": on.isoformat()})
    return row


@transaction.atomic
def drop_exception(*, exception: FreeException, actor: Membership, now: datetime) -> None:
    """The usual week holds on that day again."""
    record(actor, "drop_exception", exception, now=now, before={"on": exception.on.isoformat()})
    exception.delete()


def _runs(hours: list[tuple[int, int]]) -> Iterable[tuple[int, int, int]]:
    """(weekday, first hour, last hour) of hours in a row."""
    run: tuple[int, int, int] | None = None
    for weekday, hour in hours:
        if run and run[0] == weekday and run[2] + 1 == hour:
            run = (weekday, run[1], hour)
        else:
            if run:
                yield run
            run = (weekday, hour, hour)
    if run:
        yield run


def _end(last: int) -> time:
    """The end of the hour; a day has no 24:00 on a clock."""
    return time(last + 1) if last < LAST_HOUR else time(23, 59)
