"""All rules of a problem as arrays, and what they leave open once part of the plan is settled."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from courses.planning.candidates import Candidates, Ints, Mask, candidates
from courses.planning.duties import Duty, duties_of
from courses.planning.problem import Problem
from courses.planning.rows import Row, Starts, head_rows, room_rows, runs, starts_of, student_rows


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows laid end to end: ``members`` of ``row``, and ``most`` by row."""

    members: Ints
    row: Ints
    most: Ints

    def used(self, taken: Mask) -> Ints:
        """How many taken members each row has."""
        return np.bincount(self.row[taken[self.members]], minlength=len(self.most))

    def split(self, left: Mask) -> Iterator[tuple[int, Ints]]:
        """(row, the members of it that are left), for rows that have any."""
        keep = np.flatnonzero(left[self.members])
        for inside in runs(self.row[keep], keep):
            yield int(self.row[inside[0]]), self.members[inside]


@dataclass(frozen=True)
class Tables:
    """``start_rows`` bind starts, ``room_rows`` and ``duties`` candidates; ``exclusive`` binds duties."""

    problem: Problem
    found: Candidates
    starts: Starts
    start_rows: Rows
    room_rows: Rows
    duties: Rows
    is_company: Mask
    held: Ints
    exclusive: Rows
    to_place: Ints


@dataclass(frozen=True, slots=True)
class Settled:
    """``taken``: candidates that stand. ``open``: candidates that may still join them, need by need."""

    taken: Mask
    open: Mask
    start_left: Ints
    room_left: Ints
    duty_left: Ints
    duty_on: Mask


def tables_of(problem: Problem) -> Tables:
    found = candidates(problem)
    starts = starts_of(found)
    duties = duties_of(problem, found)
    at_most_one = [Row(np.array(group), 1) for group in duties.exclusive]
    return Tables(
        problem=problem,
        found=found,
        starts=starts,
        start_rows=_laid([*student_rows(problem, starts), *head_rows(problem, starts)]),
        room_rows=_laid(list(room_rows(problem, found))),
        duties=_laid(duties.duties),
        is_company=np.array([each.is_company for each in duties.duties], bool),
        held=np.array([each.held for each in duties.duties], int),
        exclusive=_laid(at_most_one),
        to_place=np.array([problem.to_place[each.code] for each in problem.needs], int),
    )


def settle(tables: Tables, taken: Mask, free: Mask) -> Settled:
    """What the candidates of the ``free`` needs may do beside those taken of all other needs."""
    found, starts = tables.found, tables.starts
    fixed = taken & ~free[found.need]
    fixed_starts = np.zeros(len(starts), bool)
    fixed_starts[starts.of[fixed]] = True
    start_left = tables.start_rows.most - tables.start_rows.used(fixed_starts)
    room_left = tables.room_rows.most - tables.room_rows.used(fixed)
    used = tables.duties.used(fixed)
    duty_left, duty_on = tables.duties.most - used, (used > 0) | (tables.held > 0)
    shut_starts = _full(tables.start_rows, start_left, len(starts))
    shut = shut_starts[starts.of] | _full(tables.room_rows, room_left, len(found))
    shut |= _full(tables.duties, np.where(_barred(tables, used > 0), 0, duty_left), len(found))
    return Settled(fixed, free[found.need] & ~shut, start_left, room_left, duty_left, duty_on)


def students_of(problem: Problem) -> Ints:
    """Index of each need's student."""
    index = {each.code: place for place, each in enumerate(problem.students)}
    return np.array([index[each.student] for each in problem.needs], int)


def long_days(tables: Tables, taken: Mask) -> set[tuple[str, int]]:
    """Students and days that have a long session, frozen or taken."""
    problem, found = tables.problem, tables.found
    frozen = [each for each in problem.frozen if each.span.end - each.span.start >= problem.long_min]
    seats = np.flatnonzero(taken & (found.end - found.start >= problem.long_min)).tolist()
    settled = {(problem.needs[found.need[seat]].student, int(found.day[seat])) for seat in seats}
    return settled | {(each.student, problem.day_of(each.span.start)) for each in frozen}


def with_row(tables: Tables, row: Row) -> Tables:
    """One more rule over candidates."""
    rows = tables.room_rows
    nth = np.full(len(row.members), len(rows.most))
    laid = Rows(np.r_[rows.members, row.members], np.r_[rows.row, nth], np.append(rows.most, row.most))
    return replace(tables, room_rows=laid)


def _barred(tables: Tables, is_on: Mask) -> Mask:
    """Duties that are off because another one is on beside which they cannot be."""
    exclusive = tables.exclusive
    on_in_group = exclusive.used(is_on) > 0
    barred = np.zeros(len(is_on), bool)
    barred[exclusive.members[on_in_group[exclusive.row]]] = True
    return barred & ~is_on


def _full(rows: Rows, left: Ints, length: int) -> Mask:
    full = np.zeros(length, bool)
    full[rows.members[left[rows.row] <= 0]] = True
    return full


def _laid(rows: Iterable[Row | Duty]) -> Rows:
    kept = list(rows)
    lengths = np.array([len(each.members) for each in kept], int)
    members = np.concatenate([each.members for each in kept]) if kept else np.zeros(0, int)
    return Rows(
        members, np.repeat(np.arange(len(kept)), lengths), np.array([each.most for each in kept], int)
    )
