"""What a plan changes about the bookings, line by line, so that it can be accepted whole or in part."""

from dataclasses import dataclass, replace
from typing import Literal

from courses.planning.problem import Booked, Place, Plan, Problem, Span
from courses.planning.sentences import Say, name_of, seat_words, student_of, utc_words

Change = Literal["new", "moved", "cancelled", "unchanged"]


@dataclass(frozen=True, slots=True)
class Line:
    """``changed``: what is not as it was: time, educator, room, bench, head.

    ``after``: codes of the bookings that must have made way before this line can be accepted by itself.
    """

    change: Change
    student: str
    need: str | None
    booked: Booked | None
    place: Place | None
    sentence: str
    changed: tuple[str, ...] = ()
    after: tuple[str, ...] = ()

    @property
    def span(self) -> Span:
        """Where it will be, or was when it is cancelled."""
        span = self.place.span if self.place else self.booked.span if self.booked else None
        if span is None:
            raise ValueError("A line has a booking, a place or both.")
        return span


def difference(problem: Problem, plan: Plan, say: Say = utc_words) -> tuple[Line, ...]:
    """One line for each booking and each new place, in order of time. ``say`` words a minute of UTC."""
    places = {place.booked: place for place in plan.places if place.booked is not None}
    lines = [_of_booking(problem, each, places.get(each.code), say) for each in problem.booked]
    lines += [_of_new(problem, each, say) for each in plan.places if each.booked is None]
    leaving = [each.booked for each in lines if each.booked and each.change in ("moved", "cancelled")]
    done = [replace(line, after=_in_the_way(line, leaving)) for line in lines]
    return tuple(sorted(done, key=lambda line: (line.span, line.student, line.change)))


def _of_new(problem: Problem, place: Place, say: Say) -> Line:
    who = student_of(problem, place.need)
    sentence = f"New for {who}: {say(place.span.start)}, {seat_words(problem, place)}."
    return Line("new", problem.need_by_code[place.need].student, place.need, None, place, sentence)


def _of_booking(problem: Problem, booking: Booked, place: Place | None, say: Say) -> Line:
    who, was = name_of(problem.students, booking.student), say(booking.span.start)
    changed = _changed(booking, place) if place else ()
    change: Change = "moved" if changed else "unchanged"
    if place is None:
        change = "unchanged" if problem.is_frozen(booking) else "cancelled"
    sentence = f"{who} keeps {was}."
    if change == "cancelled":
        sentence = f"{who} loses {was}."
    elif place is not None and "time" in changed:
        sentence = f"{who} moves from {was} to {say(place.span.start)}, {seat_words(problem, place)}."
    elif place is not None and changed:
        sentence = f"{who} keeps {was}, now with {seat_words(problem, place)}."
    return Line(change, booking.student, booking.need, booking, place, sentence, changed)


def _changed(booking: Booked, place: Place) -> tuple[str, ...]:
    pairs = {
        "time": (booking.span, place.span),
        "educator": (booking.educator, place.educator),
        "room": (booking.room, place.room),
        "bench": (booking.bench, place.bench),
        "head": (booking.head, place.head),
    }
    return tuple(name for name, (old, new) in pairs.items() if old != new)


def _in_the_way(line: Line, leaving: list[Booked]) -> tuple[str, ...]:
    """Bookings that hold now what the line will hold; those of an educator may merely fill her seats."""
    place = line.place
    if place is None or line.change == "unchanged":
        return ()
    return tuple(
        each.code
        for each in leaving
        if each is not line.booked
        and each.span.overlaps(place.span)
        and (
            each.student == line.student
            or each.bench == place.bench
            or each.educator == place.educator
            or (each.head is not None and each.head == place.head)
        )
    )
