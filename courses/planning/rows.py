"""The rules of a plan as rows "at most so many of these", over the candidates of `candidates`.

Benches of a room and heads of enough layers are counted, not named: wherever the counts fit on a day without
frozen bookings, benches can be given out afterwards (intervals of one class form an interval graph, which
needs as many colours as its largest overlap). Counts only change where something starts, so rows stand there.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from courses.planning.candidates import Candidates, Ints, clear_of, head_serves
from courses.planning.problem import Problem, Room, Span


@dataclass(frozen=True, slots=True)
class Row:
    """At most ``most`` of ``members`` (indices)."""

    members: Ints
    most: int


@dataclass(frozen=True)
class Starts:
    """Candidates of one need and one start taken together; ``of`` maps each candidate to its start."""

    of: Ints
    need: Ints
    start: Ints
    end: Ints
    day: Ints

    def __len__(self) -> int:
        return len(self.need)


def starts_of(found: Candidates) -> Starts:
    """Candidates come sorted by need and start, so that each start is one run of them."""
    if not len(found):
        empty = np.zeros(0, int)
        return Starts(empty, empty, empty, empty, empty)
    new = np.r_[True, (np.diff(found.need) != 0) | (np.diff(found.start) != 0)]
    first = np.flatnonzero(new)
    return Starts(
        np.cumsum(new) - 1, found.need[first], found.start[first], found.end[first], found.day[first]
    )


def student_rows(problem: Problem, starts: Starts) -> Iterator[Row]:
    """A student is at one bench at a time, and sessions of one skill keep their days apart."""
    index = {each.code: place for place, each in enumerate(problem.students)}
    student = np.array([index[each.student] for each in problem.needs], int)[starts.need]
    for mine in runs(student, np.arange(len(starts))):
        if len(np.unique(starts.need[mine])) > 1:
            points = np.unique(starts.start[mine])
            for _, members in overlaps(starts.start[mine], starts.end[mine], points):
                yield Row(mine[members], 1)
    yield from _spacing_rows(problem, starts)


def room_rows(problem: Problem, found: Candidates) -> Iterator[Row]:
    for place, room in enumerate(problem.rooms):
        here = np.flatnonzero(found.room == place)
        busy = _bench_busy(problem, room)
        points = points_of(found.start[here], (span.start for spans in busy.values() for span in spans))
        masks = [clear_of(spans, points, points + 1) for spans in busy.values()]
        free = sum(masks, np.zeros(len(points), int))
        for point, members in overlaps(found.start[here], found.end[here], points):
            if len(members) > free[point]:
                yield Row(here[members], int(free[point]))


def head_rows(problem: Problem, starts: Starts) -> Iterator[Row]:
    """For each number of layers: sessions that need as many, at most the heads that have them."""
    uses = np.array([problem.kind_by_code[each.kind].needs_head for each in problem.needs], bool)
    layers = np.where(uses, np.array([each.layers for each in problem.needs], int), 0)[starts.need]
    for least in np.unique(layers[layers > 0]):
        here = np.flatnonzero(layers >= least)
        points = points_of(starts.start[here], _head_changes(problem))
        heads = [head for head in problem.heads if head.layers >= least]
        masks = [head_serves(problem, head, points, points + 1) for head in heads]
        free = sum(masks, np.zeros(len(points), int))
        for point, members in overlaps(starts.start[here], starts.end[here], points):
            if len(members) > free[point]:
                yield Row(here[members], int(free[point]))


def overlaps(start: Ints, end: Ints, points: Ints) -> Iterator[tuple[int, Ints]]:
    """(index of a point, indices of the intervals over it), for sorted points that have any."""
    low, high = np.searchsorted(points, start), np.searchsorted(points, end)
    counts = high - low
    item = np.repeat(np.arange(len(start)), counts)
    offset = np.repeat(np.cumsum(counts) - counts, counts)
    point = np.arange(len(item)) - offset + np.repeat(low, counts)
    for members in runs(point, np.arange(len(item))):
        yield int(point[members[0]]), item[members]


def runs(keys: Ints, members: Ints) -> Iterator[Ints]:
    """The members of each key, keys in rising order."""
    if not len(keys):
        return
    order = np.argsort(keys, kind="stable")
    cuts = np.flatnonzero(np.diff(keys[order])) + 1
    yield from np.split(members[order], cuts)


def points_of(start: Ints, changes: Iterable[int]) -> Ints:
    points: Ints = np.unique(np.concatenate([start, np.fromiter(changes, int)]))
    return points


def _spacing_rows(problem: Problem, starts: Starts) -> Iterator[Row]:
    """Within as many days as sessions of one skill keep apart, a student has at most one."""
    skills = {key: place for place, key in enumerate(problem.least_days)}
    group = np.array([skills[each.student, each.skill] for each in problem.needs], int)[starts.need]
    least = np.array(list(problem.least_days.values()), int)
    for mine in runs(group, np.arange(len(starts))):
        days = starts.day[mine]
        for first in np.unique(days):
            inside = (days >= first) & (days < first + least[group[mine[0]]])
            yield Row(mine[inside], 1)


def _bench_busy(problem: Problem, room: Room) -> dict[str, list[Span]]:
    busy = {bench.code: list(bench.closed) for bench in room.benches}
    for booking in problem.frozen:
        if booking.bench in busy:
            busy[booking.bench].append(booking.span)
    return busy


def _head_changes(problem: Problem) -> Iterator[int]:
    """Instants from which there may be fewer heads."""
    for head in problem.heads:
        yield from (each.start for each in head.held)
        if (limit := head.strip_ends_at) is not None:
            yield limit
    yield from (each.span.start for each in problem.frozen if each.head)
