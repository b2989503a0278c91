"""Every rule that a plan must keep, checked line by line and apart from whatever made the plan.

Frozen bookings stand as they are: two of them may break a rule, a planned place beside them may not.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations

from courses.planning.problem import MINUTES_A_DAY, Booked, Need, Place, Plan, Problem, SessionKind, Span


@dataclass(frozen=True, slots=True)
class Violation:
    """``needs``: codes of the needs whose places break the rule."""

    rule: str
    needs: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class _Line:
    """One session of the rota, planned or frozen."""

    student: str
    skill: str
    drill: str
    kind: SessionKind
    span: Span
    educator: str
    room: str
    bench: str
    head: str | None
    need: str | None
    is_planned: bool


Rule = Callable[[Problem, tuple[Place, ...], list[_Line]], Iterator[Violation]]


def violations(problem: Problem, plan: Plan) -> tuple[Violation, ...]:
    """Nothing when the plan keeps every rule."""
    unknown = tuple(_unknown(problem, plan.places))
    if unknown:
        return unknown
    lines = _lines(problem, plan.places)
    return tuple(found for rule in RULES for found in rule(problem, plan.places, lines))


def _unknown(problem: Problem, places: tuple[Place, ...]) -> Iterator[Violation]:
    benches = {(room.code, bench.code) for room in problem.rooms for bench in room.benches}
    needs = {each.code for each in problem.needs}
    educators, heads = {each.code for each in problem.educators}, {each.code for each in problem.heads}
    for place in places:
        known = place.need in needs and place.educator in educators and (place.room, place.bench) in benches
        if not known or (place.head is not None and place.head not in heads):
            yield Violation(
                "unknown", (place.need,), "The place names somebody or something that is not there."
            )


def _lines(problem: Problem, places: tuple[Place, ...]) -> list[_Line]:
    needs, kinds = {each.code: each for each in problem.needs}, {each.code: each for each in problem.kinds}
    planned = [_planned(needs[place.need], kinds[needs[place.need].kind], place) for place in places]
    return planned + [_frozen(kinds[each.kind], each) for each in problem.booked if problem.is_frozen(each)]


def _planned(need: Need, kind: SessionKind, place: Place) -> _Line:
    return _Line(
        student=need.student,
        skill=need.skill,
        drill=need.drill,
        kind=kind,
        span=place.span,
        educator=place.educator,
        room=place.room,
        bench=place.bench,
        head=place.head,
        need=need.code,
        is_planned=True,
    )


def _frozen(kind: SessionKind, booking: Booked) -> _Line:
    return _Line(
        student=booking.student,
        skill=booking.skill,
        drill=booking.drill,
        kind=kind,
        span=booking.span,
        educator=booking.educator,
        room=booking.room,
        bench=booking.bench,
        head=booking.head,
        need=booking.need,
        is_planned=False,
    )


def sessions_asked_for(
    problem: Problem, places: tuple[Place, ...], lines: list[_Line]
) -> Iterator[Violation]:
    count: dict[str | None, int] = defaultdict(int)
    for line in lines:
        count[line.need] += 1
    for need in problem.needs:
        if count[need.code] > need.sessions and any(place.need == need.code for place in places):
            yield Violation(
                "too_many",
                (need.code,),
                f"{count[need.code]} sessions are planned where {need.sessions} are needed.",
            )


def right_length(problem: Problem, places: tuple[Place, ...], lines: list[_Line]) -> Iterator[Violation]:
    length = {each.code: each.length_min for each in problem.needs}
    for place in places:
        if place.span.end - place.span.start != length[place.need]:
            yield Violation(
                "length", (place.need,), f"The session does not last {length[place.need]} minutes."
            )


def in_time(problem: Problem, places: tuple[Place, ...], lines: list[_Line]) -> Iterator[Violation]:
    """Not before the frozen time or the need's earliest, and all on one planned local day."""
    earliest = {each.code: each.earliest for each in problem.needs}
    for place in places:
        start, end = place.span.start, place.span.end
        if start < problem.frozen_until:
            yield Violation("frozen", (place.need,), "The session starts when bookings no longer change.")
        if start < earliest[place.need]:
            yield Violation("too_early", (place.need,), "The session starts before its need begins.")
        days = [
            (a, b) for a, b in zip(problem.day_starts, problem.day_starts[1:], strict=False) if a <= start < b
        ]
        if not days or end > days[0][1]:
            yield Violation("outside_days", (place.need,), "The session does not lie within one planned day.")
        elif (start - days[0][0]) % problem.step_min and not _is_own_start(problem, place):
            yield Violation("off_grid", (place.need,), "The session starts between the steps of the day.")


def _is_own_start(problem: Problem, place: Place) -> bool:
    return any(each.need == place.need and each.span.start == place.span.start for each in problem.booked)


def bookings_kept_once(
    problem: Problem, places: tuple[Place, ...], lines: list[_Line]
) -> Iterator[Violation]:
    """A place stands for a booking of its own need that may move, and no two for the same."""
    seen: set[str] = set()
    movable = {each.code: each.need for each in problem.booked if not problem.is_frozen(each)}
    for place in places:
        if place.booked is None:
            continue
        if movable.get(place.booked) != place.need or place.booked in seen:
            yield Violation("booking", (place.need,), "The place changes a booking that it may not change.")
        seen.add(place.booked)


def student_comes(problem: Problem, places: tuple[Place, ...], lines: list[_Line]) -> Iterator[Violation]:
    students = {each.code: each for each in problem.students}
    for line in _planned_of(lines):
        student = students[line.student]
        if not _covers(student.free, line.span):
            yield Violation("student_away", _needs(line), f"{student.name} is not free then.")


def educator_may(problem: Problem, places: tuple[Place, ...], lines: list[_Line]) -> Iterator[Violation]:
    educators = {each.code: each for each in problem.educators}
    for line in _planned_of(lines):
        educator = educators[line.educator]
        if line.skill not in educator.skills:
            yield Violation("not_qualified", _needs(line), f"{educator.name} may not teach this skill.")
        if not _covers(educator.working, line.span):
            yield Violation("educator_away", _needs(line), f"{educator.name} does not work then.")


def room_open(problem: Problem, places: tuple[Place, ...], lines: list[_Line]) -> Iterator[Violation]:
    rooms = {each.code: each for each in problem.rooms}
    for line in _planned_of(lines):
        room = rooms[line.room]
        bench = next(each for each in room.benches if each.code == line.bench)
        if not _covers(room.open, line.span):
            yield Violation("room_closed", _needs(line), f"{room.name} is closed then.")
        if line.kind.rooms is not None and room.code not in line.kind.rooms:
            yield Violation("wrong_room", _needs(line), f"{line.kind.name} is not held in {room.name}.")
        if any(line.span.overlaps(closed) for closed in bench.closed):
            yield Violation("bench_closed", _needs(line), f"{bench.name} is out of use then.")


def head_serves(problem: Problem, places: tuple[Place, ...], lines: list[_Line]) -> Iterator[Violation]:
    heads, needs = {each.code: each for each in problem.heads}, {each.code: each for each in problem.needs}
    for line in _planned_of(lines):
        if line.kind.needs_head != (line.head is not None):
            yield Violation("head_missing", _needs(line), "A head is missing, or given where none is used.")
        if not line.kind.needs_head or line.head is None:
            continue
        head = heads[line.head]
        if head.layers < needs[line.need or ""].layers:
            yield Violation("head_layers", _needs(line), f"{head.name} has too few layers.")
        age_min = line.span.end - head.strip_fitted_at
        if head.strip_days is not None and age_min > head.strip_days * MINUTES_A_DAY:
            yield Violation("strip_old", _needs(line), f"The strip of {head.name} is too old then.")
        if line.span.start < head.strip_fitted_at or any(line.span.overlaps(each) for each in head.held):
            yield Violation("head_held", _needs(line), f"{head.name} is not free then.")


def nothing_twice(problem: Problem, places: tuple[Place, ...], lines: list[_Line]) -> Iterator[Violation]:
    """No student, bench or head in two sessions at once."""
    for a, b in _pairs(lines):
        if not a.span.overlaps(b.span):
            continue
        if a.student == b.student:
            yield Violation("student_twice", _needs(a, b), "The student is at two benches at once.")
        if a.bench == b.bench:
            yield Violation("bench_twice", _needs(a, b), "The bench is given twice at once.")
        if a.head is not None and a.head == b.head:
            yield Violation("head_twice", _needs(a, b), "The head is given twice at once.")


def one_duty(problem: Problem, places: tuple[Place, ...], lines: list[_Line]) -> Iterator[Violation]:
    """An educator looks after one kind of session in one room at a time; a group starts and ends as one."""
    for a, b in _pairs(lines):
        if a.educator != b.educator or not a.span.overlaps(b.span):
            continue
        if (a.room, a.kind.code) != (b.room, b.kind.code):
            yield Violation("educator_torn", _needs(a, b), "The educator looks after two things at once.")
        elif a.kind.is_group and (a.drill, a.span) != (b.drill, b.span):
            yield Violation("group_mixed", _needs(a, b), "Two groups are with one educator at once.")


def capacity_kept(problem: Problem, places: tuple[Place, ...], lines: list[_Line]) -> Iterator[Violation]:
    """The most at once is reached where a session starts."""
    for line in lines:
        beside = [
            each
            for each in lines
            if each.educator == line.educator and each.span.start <= line.span.start < each.span.end
        ]
        planned = [each for each in beside if each.is_planned]
        if planned and len(beside) > planned[0].kind.capacity:
            yield Violation(
                "capacity", _needs(*planned), "The educator looks after too many students at once."
            )


def days_apart(problem: Problem, places: tuple[Place, ...], lines: list[_Line]) -> Iterator[Violation]:
    least: dict[tuple[str, str], int] = defaultdict(lambda: 1)
    for need in problem.needs:
        key = need.student, need.skill
        least[key] = max(least[key], need.least_days)
    for a, b in _pairs(lines):
        key = a.student, a.skill
        if key == (b.student, b.skill):
            apart = abs(_day(problem, a.span.start) - _day(problem, b.span.start))
            if apart < least[key]:
                yield Violation(
                    "days_apart", _needs(a, b), f"Sessions of one skill are at least {least[key]} days apart."
                )


RULES: tuple[Rule, ...] = (
    sessions_asked_for,
    right_length,
    in_time,
    bookings_kept_once,
    student_comes,
    educator_may,
    room_open,
    head_serves,
    nothing_twice,
    one_duty,
    capacity_kept,
    days_apart,
)


def _planned_of(lines: list[_Line]) -> Iterator[_Line]:
    return (line for line in lines if line.is_planned)


def _pairs(lines: list[_Line]) -> Iterator[tuple[_Line, _Line]]:
    return ((a, b) for a, b in combinations(lines, 2) if a.is_planned or b.is_planned)


def _needs(*lines: _Line) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line.need for line in lines if line.is_planned and line.need is not None))


def _covers(spans: tuple[Span, ...], wanted: Span) -> bool:
    """Whether the spans, laid together, leave no minute of it out."""
    reached = wanted.start
    for span in sorted(spans):
        if span.start <= reached < span.end:
            reached = span.end
    return reached >= wanted.end


def _day(problem: Problem, minute: int) -> int:
    return sum(start <= minute for start in problem.day_starts)
