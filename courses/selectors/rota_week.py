"""The rota as a page shows it: bookings by day, in the academy's own days."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from academy.models import Academy
from courses.models import Booking
from courses.selectors.bookings import bookings_between
from courses.selectors.rota import benches, closed_days, opening_spans

WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Day:
    """One day with its bookings in order of time. ``closed``: why nobody comes, empty on an ordinary day."""

    on: date
    bookings: Sequence[Booking]
    is_open: bool
    closed: str
    is_today: bool


@dataclass(frozen=True, slots=True)
class Days:
    """Days in a row, and what is around them."""

    days: Sequence[Day]
    benches: int

    @property
    def first_on(self) -> date:
        return self.days[0].on

    @property
    def last_on(self) -> date:
        return self.days[-1].on

    @property
    def count(self) -> int:
        return sum(len(day.bookings) for day in self.days)

    @property
    def shown(self) -> Sequence[Day]:
        """Without days on which the academy is closed as a rule and nobody is booked."""
        return [day for day in self.days if day.is_open or day.bookings or day.closed]

    @property
    def busy(self) -> Sequence[Day]:
        return [day for day in self.days if day.bookings]


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


def rota_days(academy: Academy, first_on: date, count: int, *, now: datetime) -> Days:
    """``count`` days from ``first_on``; five queries for any number of bookings."""
    last_on, zone = first_on + timedelta(days=count - 1), ZoneInfo(academy.time_zone)
    starts, ends = (
        datetime.combine(day, time.min, zone).astimezone(UTC)
        for day in (first_on, last_on + timedelta(days=1))
    )
    found = bookings_between(academy, starts, ends)
    by_day = {
        day: list(group) for day, group in groupby(found, lambda one: one.starts_at.astimezone(zone).date())
    }
    closed = {each.on: each.reason or "closed" for each in closed_days(academy, first_on, last_on)}
    open_on = {span.starts.astimezone(zone).date() for span in opening_spans(academy, first_on, last_on)}
    days = [
        Day(
            on=day,
            bookings=by_day.get(day, ()),
            is_open=day in open_on,
            closed=closed.get(day, ""),
            is_today=day == academy.date_of(now),
        )
        for day in (first_on + timedelta(days=n) for n in range(count))
    ]
    return Days(days, benches(academy).count())
