"""Every start, educator and room that a session of a need could have, were it alone with the frozen bookings.

One row of the arrays is one candidate. The masks run over a grid of starts that all needs share.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from courses.planning.problem import Booked, Educator, Head, Need, Problem, Room, Span

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Candidates:
    """Indices into the problem's tuples, and minutes; sorted by need, start, educator, room.

    ``points``: the points that one session there adds to the plan's value by itself. ``stays``: code of the
    booking that would stay as it is.
    """

    need: Ints
    start: Ints
    end: Ints
    day: Ints
    educator: Ints
    room: Ints
    points: Ints
    stays: tuple[str | None, ...]

    def __len__(self) -> int:
        return len(self.need)


@dataclass(frozen=True)
class Sieve:
    """What is left of the grid of starts for one need, rule by rule; each mask alone, over ``starts``.

    ``educators``: (educators, starts) who may teach and work; ``rooms``: (rooms, starts) with a free bench;
    ``pairs``: (educators, rooms, starts) where no frozen booking holds the educator to something else.
    """

    need: Need
    starts: Ints
    days: Ints
    in_time: Mask
    student_free: Mask
    spaced: Mask
    head_free: Mask
    educators: Mask
    rooms: Mask
    pairs: Mask

    @cached_property
    def open_pairs(self) -> Mask:
        """(educators, rooms, starts) where all rules hold."""
        alone = self.in_time & self.student_free & self.spaced & self.head_free
        return self.pairs & self.educators[:, None] & self.rooms[None] & alone


def candidates(problem: Problem) -> Candidates:
    found = [_of_need(problem, place, sieve(problem, need)) for place, need in enumerate(problem.needs)]
    columns = [np.concatenate(part) if part else np.zeros(0, int) for part in zip(*found, strict=True)]
    need, start, educator, room = columns or [np.zeros(0, int)] * 4
    lengths = np.array([each.length_min for each in problem.needs], int)
    day = np.searchsorted(problem.day_starts, start, side="right") - 1
    stays = _stays(problem, need, start, educator, room)
    points = _points(problem, need, day) + problem.weights.changed * np.array(
        [bool(each) for each in stays], int
    )
    return Candidates(need, start, start + lengths[need], day, educator, room, points, stays)


def sieve(problem: Problem, need: Need) -> Sieve:
    """Costs some milliseconds: about thirty passes over the grid of starts."""
    starts = _grid(problem, need)
    ends = starts + need.length_min
    days = np.searchsorted(problem.day_starts, starts, side="right") - 1
    fixed = problem.frozen
    student = next(each for each in problem.students if each.code == need.student)
    busy = [each.span for each in fixed if each.student == need.student]
    return Sieve(
        need=need,
        starts=starts,
        days=days,
        in_time=_in_time(problem, need, starts, days),
        student_free=within(student.free, starts, ends) & clear_of(busy, starts, ends),
        spaced=_spaced(problem, need, days),
        head_free=_head_free(problem, need, starts, ends),
        educators=_stack(problem.educators, lambda each: _teaches(each, need, starts, ends), starts),
        rooms=_stack(problem.rooms, lambda each: _has_bench(problem, each, need, starts, ends), starts),
        pairs=_pairs(problem, need, starts, ends),
    )


def within(spans: Iterable[Span], starts: Ints, ends: Ints) -> Mask:
    """Whether each [start, end) lies inside the union of the spans."""
    merged = np.array([(each.start, each.end) for each in union(spans)], int).reshape(-1, 2)
    place = np.searchsorted(merged[:, 0], starts, side="right") - 1
    inside = place >= 0
    inside[inside] = merged[place[inside], 1] >= ends[inside]
    return inside


def clear_of(spans: Iterable[Span], starts: Ints, ends: Ints) -> Mask:
    """Whether each [start, end) meets none of the spans."""
    merged = np.array([(each.start, each.end) for each in union(spans)], int).reshape(-1, 2)
    before = np.searchsorted(merged[:, 0], ends) - 1
    clear: Mask = (before < 0) | (np.append(merged[:, 1], 0)[before] <= starts)
    return clear


def union(spans: Iterable[Span]) -> list[Span]:
    """The same times, in order, with those that touch joined."""
    joined: list[Span] = []
    for span in sorted(spans):
        if joined and span.start <= joined[-1].end:
            joined[-1] = Span(joined[-1].start, max(joined[-1].end, span.end))
        else:
            joined.append(span)
    return joined


def _of_need(problem: Problem, place: int, sifted: Sieve) -> tuple[Ints, Ints, Ints, Ints]:
    """Need, start, educator and room of each candidate; none when nothing is left to place."""
    pairs = sifted.open_pairs
    if not problem.to_place[sifted.need.code]:
        pairs = np.zeros_like(pairs)
    at, educator, room = np.nonzero(pairs.transpose(2, 0, 1))
    return np.full(len(at), place), sifted.starts[at], educator, room


def _grid(problem: Problem, need: Need) -> Ints:
    """Starts of the shared grid, and those of the need's own bookings, which may stand off it."""
    days = zip(problem.day_starts, problem.day_starts[1:], strict=False)
    grid = [np.arange(day, end, problem.step_min) for day, end in days]
    own = [each.span.start for each in problem.movable if each.need == need.code]
    starts: Ints = np.unique(np.concatenate([*grid, np.array(own, int)]))
    return starts[starts >= max(problem.frozen_until, need.earliest)]


def _in_time(problem: Problem, need: Need, starts: Ints, days: Ints) -> Mask:
    """A session ends on the local day on which it starts."""
    day_ends = np.array(problem.day_starts)[np.minimum(days + 1, len(problem.day_starts) - 1)]
    in_time: Mask = starts + need.length_min <= day_ends
    return in_time


def _spaced(problem: Problem, need: Need, days: Ints) -> Mask:
    least = problem.least_days[need.student, need.skill]
    spaced = np.ones(len(days), bool)
    for each in problem.frozen:
        if (each.student, each.skill) == (need.student, need.skill):
            spaced &= np.abs(days - problem.day_of(each.span.start)) >= least
    return spaced


def _head_free(problem: Problem, need: Need, starts: Ints, ends: Ints) -> Mask:
    if not problem.kind_by_code[need.kind].needs_head:
        return np.ones(len(starts), bool)
    free = np.zeros(len(starts), bool)
    for head in problem.heads:
        if head.layers >= need.layers:
            free |= head_serves(problem, head, starts, ends)
    return free


def head_serves(problem: Problem, head: Head, starts: Ints, ends: Ints) -> Mask:
    busy = [each.span for each in problem.frozen if each.head == head.code]
    serves = clear_of([*head.held, *busy], starts, ends) & (starts >= head.strip_fitted_at)
    if (limit := head.strip_ends_at) is not None:
        serves &= ends <= limit
    return serves


def _teaches(educator: Educator, need: Need, starts: Ints, ends: Ints) -> Mask:
    if need.skill not in educator.skills:
        return np.zeros(len(starts), bool)
    return within(educator.working, starts, ends)


def _has_bench(problem: Problem, room: Room, need: Need, starts: Ints, ends: Ints) -> Mask:
    rooms = problem.kind_by_code[need.kind].rooms
    if rooms is not None and room.code not in rooms:
        return np.zeros(len(starts), bool)
    free = np.zeros(len(starts), bool)
    for bench in room.benches:
        busy = [each.span for each in problem.frozen if each.bench == bench.code]
        free |= clear_of([*bench.closed, *busy], starts, ends)
    return free & within(room.open, starts, ends)


def _pairs(problem: Problem, need: Need, starts: Ints, ends: Ints) -> Mask:
    """(educators, rooms, starts) where no frozen booking holds the educator to something else."""
    held: dict[str, list[Booked]] = {}
    for booking in problem.frozen:
        held.setdefault(booking.educator, []).append(booking)
    pairs = np.ones((len(problem.educators), len(problem.rooms), len(starts)), bool)
    for place, educator in enumerate(problem.educators):
        if educator.code in held and need.skill in educator.skills:
            for other, room in enumerate(problem.rooms):
                pairs[place, other] = _can_join(problem, need, held[educator.code], room.code, starts, ends)
    return pairs


def _can_join(problem: Problem, need: Need, held: list[Booked], room: str, starts: Ints, ends: Ints) -> Mask:
    """Whether she can take the session besides, but for capacity: same room, kind and, in groups, drill."""
    like = [each for each in held if (each.room, each.kind) == (room, need.kind)]
    group = problem.kind_by_code[need.kind].is_group
    others = [each.span for each in held if (each.room, each.kind) != (room, need.kind)]
    can_join = clear_of(others, starts, ends)
    for booking in like if group else ():
        is_same = booking.drill == need.drill and booking.span.end - booking.span.start == need.length_min
        can_join &= clear_of([booking.span], starts, ends) | (is_same & (starts == booking.span.start))
    return can_join


def _stack(rows: Iterable[object], mask: Callable[..., Mask], starts: Ints) -> Mask:
    masks = [mask(row) for row in rows]
    return np.stack(masks) if masks else np.zeros((0, len(starts)), bool)


def _stays(problem: Problem, need: Ints, start: Ints, educator: Ints, room: Ints) -> tuple[str | None, ...]:
    """A booking stays when a session of its need has its start and end, educator and room."""
    known = {}
    for booking in problem.movable:
        row = problem.need_by_code[booking.need or ""]
        if booking.span.end - booking.span.start == row.length_min:
            known[booking.need, booking.span.start, booking.educator, booking.room] = booking.code
    if not known:
        return (None,) * len(need)
    codes = [each.code for each in problem.needs], [each.code for each in problem.educators]
    rooms = [each.code for each in problem.rooms]
    rows = zip(need, start, educator, room, strict=True)
    return tuple(known.get((codes[0][n], int(t), codes[1][e], rooms[r])) for n, t, e, r in rows)


def _points(problem: Problem, need: Ints, day: Ints) -> Ints:
    weights = problem.weights
    priority = np.array([each.priority for each in problem.needs], int)[need]
    due = np.array([problem.day_of(each.due) for each in problem.needs], int)[need]
    late = np.clip(day - due, 0, weights.late_days_most)
    points: Ints = priority * (weights.placed - weights.late_day * late)
    return points
