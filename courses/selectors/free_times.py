from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from academy.errors import NotHere
from academy.models import Membership
from courses.models import FreeException, FreeHours, OpeningHours, Weekday


@dataclass(frozen=True, slots=True)
class FreeDay:
    """One day of the usual week: every whole hour of its opening, and whether she can come then."""

    weekday: int
    name: str
    hours: Sequence[tuple[int, bool]]

    @property
    def free(self) -> int:
        return sum(is_free for _, is_free in self.hours)


def usual_week(student: Membership) -> list[FreeDay]:
    """Days on which the academy opens, with hours she entered outside its opening too; two queries."""
    opening = _hours_of(OpeningHours.objects.filter(academy=student.academy))
    free = _hours_of(FreeHours.objects.filter(student=student))
    return [
        FreeDay(day, day.label, [(hour, (day, hour) in free) for hour in hours])
        for day in Weekday
        if (hours := sorted(hour for weekday, hour in opening | free if weekday == day))
    ]


def exceptions_to_come(student: Membership, now: datetime) -> list[FreeException]:
    return list(FreeException.objects.filter(student=student, on__gte=student.academy.date_of(now)))


def own_exception(student: Membership, exception_id: int) -> FreeException:
    """One of this student's; another's is NotHere."""
    found = FreeException.objects.filter(student=student, pk=exception_id).first()
    if found is None:
        raise NotHere("day")
    return found


def _hours_of(rows: Iterable[OpeningHours | FreeHours]) -> set[tuple[int, int]]:
    return set().union(*(whole_hours(row) for row in rows))


def whole_hours(row: OpeningHours | FreeHours) -> set[tuple[int, int]]:
    """(weekday, hour) of every hour that the row touches."""
    last = row.ends.hour if row.ends.minute else row.ends.hour - 1
    return {(row.weekday, hour) for hour in range(row.starts.hour, last + 1)}
