"""What the planner is told and what it answers, as plain data.

Every instant is a whole number of minutes of UTC since 1970-01-01T00:00Z, so clocks never change here.
Local days come in as the instants at which they begin: one of 23 or 25 hours is a day like any other.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Protocol

MINUTES_A_DAY = 1440


class ProblemError(ValueError):
    """The problem cannot be planned as it stands; ``message`` says what to change."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """From ``start`` up to, not including, ``end``; both in minutes of UTC."""

    start: int
    end: int

    def __post_init__(self) -> None:
        if self.end <= self.start:
            raise ProblemError(
                "span_ends_first", "A time must end after it begins. Correct its start or end."
            )

    def overlaps(self, other: "Span") -> bool:
        return self.start < other.end and other.start < self.end

    def holds(self, other: "Span") -> bool:
        return self.start <= other.start and other.end <= self.end


@dataclass(frozen=True, slots=True)
class Student:
    code: str
    name: str
    free: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Educator:
    """``skills``: codes of the skills that the educator may teach."""

    code: str
    name: str
    working: tuple[Span, ...]
    skills: frozenset[str]


@dataclass(frozen=True, slots=True)
class Bench:
    """``closed``: times out of use."""

    code: str
    name: str
    closed: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Room:
    """``open``: opening hours with the holidays already taken out."""

    code: str
    name: str
    open: tuple[Span, ...]
    benches: tuple[Bench, ...]


@dataclass(frozen=True, slots=True)
class Head:
    """``strip_days``: days that a lash strip serves after it was fitted, None without a limit."""

    code: str
    name: str
    layers: int
    strip_fitted_at: int = 0
    strip_days: int | None = None
    held: tuple[Span, ...] = ()

    @property
    def strip_ends_at(self) -> int | None:
        """When the strip is too old; None without a limit."""
        return None if self.strip_days is None else self.strip_fitted_at + self.strip_days * MINUTES_A_DAY


@dataclass(frozen=True, slots=True)
class SessionKind:
    """``capacity``: students at once under one educator. A group starts together on one drill.

    ``rooms``: codes of the rooms where it may be held; None: in any.
    """

    code: str
    name: str
    capacity: int
    is_group: bool = False
    needs_head: bool = True
    rooms: frozenset[str] | None = None


@dataclass(frozen=True, slots=True)
class Need:
    """So many ``sessions`` of one drill, those already booked ahead included.

    ``priority`` multiplies what a placed session is worth. Sessions of one skill keep ``least_days`` apart
    (a rule); sessions of this need should lie at most ``most_days`` apart (a wish).
    """

    code: str
    student: str
    skill: str
    drill: str
    kind: str
    length_min: int
    earliest: int
    due: int
    priority: int = 1
    sessions: int = 1
    layers: int = 1
    least_days: int = 2
    most_days: int = 7


@dataclass(frozen=True, slots=True)
class Booked:
    """A booking that stands. Without a ``need``, or when ``is_fixed``, the planner leaves it where it is."""

    code: str
    student: str
    skill: str
    drill: str
    kind: str
    span: Span
    educator: str
    room: str
    bench: str
    head: str | None = None
    need: str | None = None
    is_fixed: bool = False


@dataclass(frozen=True, slots=True)
class Weights:
    """What a plan's value is made of, in points; the defaults are our decisions, to be set by a programme.

    ``placed`` a session, and ``late_day`` a day past the due date (up to ``late_days_most``), both times the
    need's priority; ``apart_day`` a day beyond the need's most days; ``long_again`` a further long session of
    a student on one day; ``unfair``: the second session a student goes without costs this much more than the
    first, the third twice as much more; ``together`` each student beyond the first on one drill at one time
    under one educator; ``changed`` a booking that does not stay as it is.
    """

    placed: int = 100
    late_day: int = 5
    late_days_most: int = 14
    apart_day: int = 3
    long_again: int = 20
    unfair: int = 15
    together: int = 6
    changed: int = 40


class Coded(Protocol):
    @property
    def code(self) -> str: ...


@dataclass(frozen=True)
class Problem:
    """``day_starts``: when each local day begins, and last the end of the planned time.

    Nothing starts, moves or is called off before ``frozen_until``. Starts lie ``step_min`` minutes apart from
    the day's beginning on; from ``long_min`` minutes on a session is long.
    """

    day_starts: tuple[int, ...]
    frozen_until: int
    students: tuple[Student, ...]
    educators: tuple[Educator, ...]
    rooms: tuple[Room, ...]
    heads: tuple[Head, ...]
    kinds: tuple[SessionKind, ...]
    needs: tuple[Need, ...]
    booked: tuple[Booked, ...] = ()
    weights: Weights = field(default_factory=Weights)
    step_min: int = 30
    long_min: int = 120

    def __post_init__(self) -> None:
        for check in CHECKS:
            for error in check(self):
                raise error

    def day_of(self, minute: int) -> int:
        """Number of the local day; before the first day the count goes on below 0, in days of 24 hours."""
        if minute < self.day_starts[0]:
            return (minute - self.day_starts[0]) // MINUTES_A_DAY
        return bisect_right(self.day_starts, minute) - 1

    def is_frozen(self, booking: Booked) -> bool:
        return booking.is_fixed or booking.need is None or booking.span.start < self.frozen_until

    @cached_property
    def frozen(self) -> tuple[Booked, ...]:
        return tuple(each for each in self.booked if self.is_frozen(each))

    @cached_property
    def movable(self) -> tuple[Booked, ...]:
        return tuple(each for each in self.booked if not self.is_frozen(each))

    @cached_property
    def need_by_code(self) -> dict[str, Need]:
        return {each.code: each for each in self.needs}

    @cached_property
    def kind_by_code(self) -> dict[str, SessionKind]:
        return {each.code: each for each in self.kinds}

    @cached_property
    def to_place(self) -> dict[str, int]:
        """Sessions by need that the planner has to find a place for: all but the frozen ones."""
        held = [each.need for each in self.frozen]
        return {each.code: max(0, each.sessions - held.count(each.code)) for each in self.needs}

    @cached_property
    def least_days(self) -> dict[tuple[str, str], int]:
        """Days apart by student and skill: the widest that one of her needs in that skill asks for."""
        widest: dict[tuple[str, str], int] = {}
        for need in self.needs:
            key = need.student, need.skill
            widest[key] = max(widest.get(key, 1), need.least_days)
        return widest


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """One session of a need. ``booked``: code of the booking that stays, or moves here; None: a new one."""

    need: str
    span: Span
    educator: str
    room: str
    bench: str
    head: str | None = None
    booked: str | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """``places`` holds what the planner decides; frozen bookings stay in the problem.

    No plan is worth more than ``bound``. ``is_proven``: none is worth more than this one.
    """

    places: tuple[Place, ...]
    value: int
    bound: int
    is_proven: bool = False
    seconds: float = 0.0

    @property
    def gap(self) -> float:
        """Share of the bound that may still be won, 0 when proven."""
        return 0.0 if self.bound <= self.value else (self.bound - self.value) / max(1, abs(self.bound))


@dataclass(frozen=True, slots=True)
class Progress:
    seconds: float
    value: int
    bound: int


Check = Callable[[Problem], Iterator[ProblemError]]


def days_in_order(problem: Problem) -> Iterator[ProblemError]:
    starts = problem.day_starts
    if len(starts) < 2 or any(b <= a for a, b in pairwise(starts)):
        yield ProblemError(
            "days_out_of_order",
            "The planned time needs at least one day, and days in order. Correct the days.",
        )
    if problem.step_min < 1 or problem.long_min < 1:
        yield ProblemError("no_step", "The step between starts and the long session need at least 1 minute.")


def codes_once(problem: Problem) -> Iterator[ProblemError]:
    benches = [bench for room in problem.rooms for bench in room.benches]
    groups: dict[str, Iterable[Coded]] = {
        "student": problem.students,
        "educator": problem.educators,
        "room": problem.rooms,
        "bench": benches,
        "head": problem.heads,
        "session kind": problem.kinds,
        "need": problem.needs,
        "booking": problem.booked,
    }
    for noun, rows in groups.items():
        for code, times in Counter(row.code for row in rows).items():
            if times > 1:
                yield ProblemError("code_twice", f"There are two of the {noun} {code}. Give each once.")


def numbers_in_range(problem: Problem) -> Iterator[ProblemError]:
    for need in problem.needs:
        smallest = min(need.length_min, need.priority, need.sessions, need.layers, need.least_days)
        if smallest < 1:
            yield ProblemError(
                "need_out_of_range",
                f"Need {need.code}: length, priority, sessions, layers and days apart are 1 or more.",
            )
        if need.most_days < need.least_days:
            yield ProblemError(
                "spacing_crossed",
                f"Need {need.code}: the most days between sessions ({need.most_days}) cannot be fewer than "
                f"the least ({need.least_days}).",
            )
    for kind in problem.kinds:
        if kind.capacity < 1:
            yield ProblemError("no_capacity", f"Session kind {kind.name}: give a capacity of 1 or more.")


def weights_in_range(problem: Problem) -> Iterator[ProblemError]:
    weights = problem.weights
    for name in weights.__slots__:
        if getattr(weights, name) < 0:
            yield ProblemError("weight_below_0", f"The weight {name} is below 0. Give 0 or more.")


def needs_known(problem: Problem) -> Iterator[ProblemError]:
    students, kinds = {each.code for each in problem.students}, {each.code for each in problem.kinds}
    for need in problem.needs:
        if need.student not in students:
            yield ProblemError(
                "student_unknown", f"Need {need.code} names a student who is not in the problem."
            )
        if need.kind not in kinds:
            yield ProblemError("kind_unknown", f"Need {need.code} names a session kind that is not there.")


def bookings_known(problem: Problem) -> Iterator[ProblemError]:
    """Rooms, benches, heads and educators may be gone since; the planner then moves what it may move."""
    needs, kinds = {each.code: each for each in problem.needs}, {each.code for each in problem.kinds}
    first, end = problem.day_starts[0], problem.day_starts[-1]
    for booking in problem.booked:
        need = needs.get(booking.need) if booking.need else None
        if booking.kind not in kinds:
            yield ProblemError(
                "kind_unknown", f"Booking {booking.code} names a session kind that is not there."
            )
        if booking.need and (need is None or need.student != booking.student):
            yield ProblemError(
                "need_unknown", f"Booking {booking.code} is for a need that its student does not have."
            )
        if not first <= booking.span.start < end:
            yield ProblemError(
                "booking_outside",
                f"Booking {booking.code} lies outside the planned days. Give more days or leave it out.",
            )


CHECKS: tuple[Check, ...] = (
    days_in_order,
    codes_once,
    numbers_in_range,
    weights_in_range,
    needs_known,
    bookings_known,
)
