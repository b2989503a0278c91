"""Hours of the week on the wall clock of one zone, turned into spans of instants; safe when clocks change."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

QUARTER = timedelta(minutes=15)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Hours:
    """Every week on ``weekday`` (Monday is 0) from ``starts`` until ``ends``, on the wall clock."""

    weekday: int
    starts: time
    ends: time


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """From ``starts`` until ``ends``, both in UTC, never empty."""

    starts: datetime
    ends: datetime

    def holds(self, other: "Span") -> bool:
        return self.starts <= other.starts and other.ends <= self.ends


class TimeSkipped(ValueError):
    """The clocks are put forward over this time of day, so it does not exist."""


def instant_of(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The instant in UTC when the wall clock of ``zone`` shows ``at``; of two such instants the first.

    Raises TimeSkipped when the clock never shows it that day.
    """
    local = datetime.combine(day, at, zone)
    found = local.astimezone(UTC)
    if found.astimezone(zone).replace(tzinfo=None) != local.replace(tzinfo=None):
        raise TimeSkipped(f"{at:%H:%M} does not exist on {day}: the clocks are put forward.")
    return found


def change_of_clocks(day: date, zone: ZoneInfo) -> timedelta:
    """How far the clocks are put forward in the course of this day; less than zero when they are put back."""
    morning, evening = (datetime.combine(each, time.min, zone) for each in (day, day + timedelta(days=1)))
    return (evening.utcoffset() or timedelta(0)) - (morning.utcoffset() or timedelta(0))


def spans(
    hours: Iterable[Hours],
    days: Iterable[date],
    zone: ZoneInfo,
    instead: Mapping[date, Sequence[Hours]] | None = None,
) -> tuple[Span, ...]:
    """The spans of ``hours`` on ``days``, sorted, touching ones joined; ``instead``: days with other hours.

    A start or end that the clocks skip is the instant they are put forward; a time that comes twice starts
    with the first and ends with the second, so a span holds all that the wall clock promises.
    """
    weekly: dict[int, list[Hours]] = {}
    for each in hours:
        weekly.setdefault(each.weekday, []).append(each)
    instead = instead or {}
    found = [
        Span(_edge(day, each.starts, zone, fold=0), _edge(day, each.ends, zone, fold=1))
        for day in days
        for each in instead.get(day, weekly.get(day.weekday(), ()))
    ]
    return joined(span for span in found if span.starts < span.ends)


def joined(found: Iterable[Span]) -> tuple[Span, ...]:
    """The same instants in the fewest spans, sorted."""
    result: list[Span] = []
    for span in sorted(found):
        if result and span.starts <= result[-1].ends:
            result[-1] = Span(result[-1].starts, max(result[-1].ends, span.ends))
        else:
            result.append(span)
    return tuple(result)


def common(one: Sequence[Span], other: Sequence[Span]) -> tuple[Span, ...]:
    """The instants in both; each is sorted and its spans do not meet."""
    return tuple(_common(one, other))


def covered(span: Span, by: Iterable[Span]) -> bool:
    """Whether one of the joined spans ``by`` holds all of ``span``."""
    return any(each.holds(span) for each in by)


def quarters(starts: datetime, ends: datetime) -> range:
    """Quarters of an hour since 1970 in UTC that the span touches."""
    return range((starts - EPOCH) // QUARTER, -((EPOCH - ends) // QUARTER))


def days_between(first: date, last: date) -> list[date]:
    """Both included."""
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]


def _common(one: Sequence[Span], other: Sequence[Span]) -> Iterator[Span]:
    left, right = 0, 0
    while left < len(one) and right < len(other):
        starts = max(one[left].starts, other[right].starts)
        ends = min(one[left].ends, other[right].ends)
        if starts < ends:
            yield Span(starts, ends)
        if one[left].ends <= other[right].ends:
            left += 1
        else:
            right += 1


def _edge(day: date, at: time, zone: ZoneInfo, *, fold: int) -> datetime:
    """Of two instants the one of ``fold``; for a skipped time the instant of the change."""
    local = datetime.combine(day, at, zone)
    try:
        instant_of(day, at, zone)
    except TimeSkipped:
        return _change_before(local.astimezone(UTC), zone)
    return local.replace(fold=fold).astimezone(UTC)


def _change_before(instant: datetime, zone: ZoneInfo) -> datetime:
    """The newest change of the clocks at or before ``instant``, to the minute."""
    offset = instant.astimezone(zone).utcoffset()
    low, high = instant - timedelta(hours=24), instant
    while high - low > timedelta(minutes=1):
        middle = low + (high - low) / 2
        if middle.astimezone(zone).utcoffset() == offset:
            high = middle
        else:
            low = middle
    return high.replace(second=0, microsecond=0)
