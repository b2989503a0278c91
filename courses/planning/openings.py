"""Where one more session of a need would fit while everything else stays where it is."""

from dataclasses import dataclass, replace

import numpy as np

from courses.planning.problem import Booked, Need, Place, Problem, Span
from courses.planning.tables import settle, tables_of


@dataclass(frozen=True, slots=True)
class Opening:
    span: Span
    educator: str
    room: str


def beside(problem: Problem, places: tuple[Place, ...], need: Need) -> Problem:
    """The problem of placing one more session of the need, with the plan's places as fixed bookings."""
    held = [_fixed(problem, place, nth) for nth, place in enumerate(places)]
    booked = [
        replace(each, need=each.need if each.need == need.code else None) for each in [*problem.frozen, *held]
    ]
    count = sum(each.need == need.code for each in booked)
    least = problem.least_days[need.student, need.skill]
    one_more = replace(need, sessions=count + 1, least_days=least, most_days=max(least, need.most_days))
    return replace(problem, booked=tuple(booked), needs=(one_more,))


def opening(problem: Problem) -> Opening | None:
    """The best place of a problem with one need and one session left, the earliest of equals."""
    tables = tables_of(problem)
    found, nobody = tables.found, np.zeros(len(tables.found), bool)
    free = np.flatnonzero(settle(tables, nobody, np.ones(len(problem.needs), bool)).open)
    if not len(free):
        return None
    best = int(free[np.argmax(found.points[free])])
    span = Span(int(found.start[best]), int(found.end[best]))
    return Opening(span, problem.educators[found.educator[best]].code, problem.rooms[found.room[best]].code)


def _fixed(problem: Problem, place: Place, nth: int) -> Booked:
    need = problem.need_by_code[place.need]
    return Booked(
        code=f"place {nth}",
        student=need.student,
        skill=need.skill,
        drill=need.drill,
        kind=need.kind,
        span=place.span,
        educator=place.educator,
        room=place.room,
        bench=place.bench,
        head=place.head,
        need=need.code,
        is_fixed=True,
    )
