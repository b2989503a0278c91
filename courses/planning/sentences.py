"""Names and times of a plan in words."""

from collections.abc import Callable, Iterable
from datetime import UTC, datetime

from courses.planning.problem import Bench, Educator, Head, Place, Problem, Room, Student

Say = Callable[[int], str]
Named = Student | Educator | Room | Bench | Head


def utc_words(minute: int) -> str:
    when = datetime.fromtimestamp(60 * minute, UTC)
    return f"{when:%a} {when.day} {when:%b %H:%M} UTC"


def name_of(rows: Iterable[Named], code: str) -> str:
    """The code itself for somebody or something that has gone since."""
    return next((row.name for row in rows if row.code == code), code)


def student_of(problem: Problem, need: str) -> str:
    return name_of(problem.students, problem.need_by_code[need].student)


def seat_words(problem: Problem, place: Place) -> str:
    """With whom, where and on what."""
    benches = [bench for room in problem.rooms for bench in room.benches]
    words = [
        name_of(problem.educators, place.educator),
        name_of(problem.rooms, place.room),
        name_of(benches, place.bench),
    ]
    return ", ".join(words if place.head is None else [*words, name_of(problem.heads, place.head)])


def together(names: Iterable[str]) -> str:
    """`Ada, Noor and Tove`."""
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


def times(count: int, noun: str) -> str:
    """`1 day`, `3 days`."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
