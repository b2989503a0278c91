"""What can hold an educator, who does one thing at a time: a session kind in a room, or a group on one drill.

A duty is on while one of its candidates is taken. Of an educator's duties at one instant at most one is on.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from courses.planning.candidates import Candidates, Ints
from courses.planning.problem import Booked, Problem
from courses.planning.rows import overlaps, points_of, runs


@dataclass(frozen=True, slots=True)
class Duty:
    """At most ``most`` of ``members`` (indices of candidates) at once.

    ``is_company``: its members are on one drill at one time under one educator, beside ``held`` frozen
    bookings.
    """

    members: Ints
    most: int
    is_company: bool = False
    held: int = 0


@dataclass(frozen=True, slots=True)
class Duties:
    """``exclusive``: groups of indices into ``duties``, of which at most one is on."""

    duties: list[Duty]
    exclusive: list[list[int]]


@dataclass(frozen=True)
class _Of:
    """The candidates that one educator may take and the bookings that hold her."""

    problem: Problem
    found: Candidates
    members: Ints
    frozen: list[Booked]


def duties_of(problem: Problem, found: Candidates) -> Duties:
    every = Duties([], [])
    for place, educator in enumerate(problem.educators):
        members = np.flatnonzero(found.educator == place)
        frozen = [each for each in problem.frozen if each.educator == educator.code]
        if len(members):
            _add(every, _Of(problem, found, members, frozen))
    return every


def _add(every: Duties, of: _Of) -> None:
    groups = np.array([of.problem.kind_by_code[each.kind].is_group for each in of.problem.needs], bool)
    in_group = groups[of.found.need[of.members]]
    blocks, alone = of.members[in_group], of.members[~in_group]
    points = points_of(of.found.start[of.members], (each.span.start for each in of.frozen))
    at: dict[int, list[int]] = {}
    for block in _blocks(of, blocks):
        first = block.members[0]
        low, high = np.searchsorted(points, (of.found.start[first], of.found.end[first]))
        for point in range(low, high):
            at.setdefault(point, []).append(len(every.duties))
        every.duties.append(block)
    for mode in runs(_mode(of, alone), alone):
        for point, inside in overlaps(of.found.start[mode], of.found.end[mode], points):
            at.setdefault(point, []).append(len(every.duties))
            every.duties.append(_supervision(of, mode[inside], int(points[point])))
    every.exclusive.extend(group for group in at.values() if len(group) > 1)
    every.duties.extend(_companies(of, alone))


def _supervision(of: _Of, members: Ints, point: int) -> Duty:
    """Everybody whom the educator looks after at one instant, those booked already left out of the count."""
    held = sum(each.span.start <= point < each.span.end for each in of.frozen)
    return Duty(members, max(0, _capacity(of, members) - held))


def _blocks(of: _Of, members: Ints) -> Iterator[Duty]:
    """One group: one drill, start and end."""
    keys = _joint(_mode(of, members), _drill(of, members), of.found.start[members], of.found.end[members])
    for block in runs(keys, members):
        held = _held(of, block)
        yield Duty(block, max(0, _capacity(of, block) - held), is_company=True, held=held)


def _companies(of: _Of, members: Ints) -> Iterator[Duty]:
    """Students of a supervised kind who happen to be on one drill from one start."""
    keys = _joint(_mode(of, members), _drill(of, members), of.found.start[members])
    for company in runs(keys, members):
        held = _held(of, company)
        if held or len(company) > 1:
            yield Duty(company, len(company), is_company=True, held=held)


def _held(of: _Of, company: Ints) -> int:
    first = company[0]
    drill, start = of.problem.needs[of.found.need[first]].drill, of.found.start[first]
    return sum(each.drill == drill and each.span.start == start for each in of.frozen)


def _capacity(of: _Of, members: Ints) -> int:
    return of.problem.kind_by_code[of.problem.needs[of.found.need[members[0]]].kind].capacity


def _mode(of: _Of, members: Ints) -> Ints:
    kinds = {each.code: place for place, each in enumerate(of.problem.kinds)}
    kind = np.array([kinds[each.kind] for each in of.problem.needs], int)[of.found.need[members]]
    return _joint(of.found.room[members], kind)


def _drill(of: _Of, members: Ints) -> Ints:
    drills = {
        code: place for place, code in enumerate(dict.fromkeys(each.drill for each in of.problem.needs))
    }
    return np.array([drills[each.drill] for each in of.problem.needs], int)[of.found.need[members]]


def _joint(*columns: Ints) -> Ints:
    """One number for each different combination, in lexical order."""
    joint = np.zeros(len(columns[0]), int)
    for column in columns:
        _, codes = np.unique(column, return_inverse=True)
        joint = joint * (int(codes.max(initial=0)) + 1) + codes
    return joint
