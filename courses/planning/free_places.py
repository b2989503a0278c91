"""Where one more session would fit between those that are booked already."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from courses.planning.availability import EPOCH, Span, quarters


@dataclass(frozen=True, slots=True)
class Held:
    """What is taken, quarter by quarter: keys of benches and students, and the capacities held by educators.

    ``educators``: for (educator, quarter) the capacity of every session she looks after in it, one for each
    student.
    """

    benches: Collection[tuple[int, int]] = frozenset()
    students: Collection[tuple[int, int]] = frozenset()
    educators: Mapping[tuple[int, int], Sequence[int]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Wanted:
    """One student's session of ``minutes``; ``capacity``: students whom an educator can look after in it.

    ``educators``: who may teach it, in order of preference. ``free``: when the student can come.
    """

    student: int
    minutes: int
    capacity: int
    educators: Sequence[int]
    free: Sequence[Span]
    earliest: datetime


@dataclass(frozen=True, slots=True)
class FreePlace:
    starts: datetime
    educator: int
    bench: int


def free_places(
    wanted: Wanted,
    held: Held,
    working: Mapping[int, Sequence[Span]],
    benches: Sequence[int],
    step: timedelta = timedelta(minutes=30),
) -> list[FreePlace]:
    """One place for every start at which there is any, in order of time: first fitting educator and bench.

    Starts lie on multiples of ``step`` from the hour in UTC. A session in company of a smaller kind counts
    with the capacity of that one.
    """
    length = timedelta(minutes=wanted.minutes)
    found = (
        _place_at(start, length, wanted, held, working, benches)
        for start in _starts(wanted.free, length, wanted.earliest, step)
    )
    return [place for place in found if place]


def _starts(
    free: Iterable[Span], length: timedelta, earliest: datetime, step: timedelta
) -> Iterable[datetime]:
    for span in free:
        first = max(span.starts, earliest)
        start = EPOCH - ((EPOCH - first) // step) * step
        while start + length <= span.ends:
            yield start
            start += step


def _place_at(
    start: datetime,
    length: timedelta,
    wanted: Wanted,
    held: Held,
    working: Mapping[int, Sequence[Span]],
    benches: Sequence[int],
) -> FreePlace | None:
    span, needed = Span(start, start + length), quarters(start, start + length)
    if any((wanted.student, quarter) in held.students for quarter in needed):
        return None
    bench = next((each for each in benches if _is_free(each, needed, held.benches)), None)
    educator = next(
        (
            each
            for each in wanted.educators
            if any(work.holds(span) for work in working.get(each, ()))
            and _has_seat(each, needed, held.educators, wanted.capacity)
        ),
        None,
    )
    return FreePlace(start, educator, bench) if educator is not None and bench is not None else None


def _is_free(key: int, needed: range, taken: Collection[tuple[int, int]]) -> bool:
    return not any((key, quarter) in taken for quarter in needed)


def _has_seat(
    educator: int, needed: range, held: Mapping[tuple[int, int], Sequence[int]], capacity: int
) -> bool:
    beside = [held.get((educator, quarter), ()) for quarter in needed]
    smallest = min([capacity, *(each for capacities in beside for each in capacities)])
    return max(len(capacities) for capacities in beside) < smallest
