"""What a plan is worth, counted from its sessions alone. Points; the weights are `Weights`."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from itertools import pairwise

from courses.planning.problem import Need, Place, Problem, Span


@dataclass(frozen=True, slots=True)
class Value:
    """Points by reason; the ones that cost are below 0."""

    placed: int
    late: int
    apart: int
    long_again: int
    unfair: int
    together: int
    changed: int

    @property
    def total(self) -> int:
        return sum(getattr(self, each.name) for each in fields(self))


@dataclass(frozen=True, slots=True)
class Session:
    """One line of the day, frozen or planned."""

    student: str
    drill: str
    span: Span
    educator: str
    need: str | None


def value_of(problem: Problem, places: Iterable[Place]) -> Value:
    """Bench and head carry no points."""
    planned, weights = tuple(places), problem.weights
    sessions = list(sessions_of(problem, planned))
    return Value(
        placed=weights.placed * sum(problem.need_by_code[each.need].priority for each in planned),
        late=-weights.late_day * sum(_late(problem, each) for each in planned),
        apart=-weights.apart_day * sum(_apart(problem, need, sessions) for need in problem.needs),
        long_again=-weights.long_again * _long_again(problem, sessions),
        unfair=-weights.unfair * _unfair(problem, planned),
        together=weights.together * _together(sessions),
        changed=-weights.changed * _changed(problem, planned),
    )


def sessions_of(problem: Problem, places: Iterable[Place]) -> Iterator[Session]:
    for each in problem.frozen:
        yield Session(each.student, each.drill, each.span, each.educator, each.need)
    for place in places:
        need = problem.need_by_code[place.need]
        yield Session(need.student, need.drill, place.span, place.educator, place.need)


def days_late(problem: Problem, place: Place) -> int:
    """Local days after the day of the due date."""
    return max(0, problem.day_of(place.span.start) - problem.day_of(problem.need_by_code[place.need].due))


def _late(problem: Problem, place: Place) -> int:
    days = min(days_late(problem, place), problem.weights.late_days_most)
    return days * problem.need_by_code[place.need].priority


def _apart(problem: Problem, need: Need, sessions: list[Session]) -> int:
    """Days beyond the need's most days, summed over its sessions one after the other."""
    days = sorted(problem.day_of(each.span.start) for each in sessions if each.need == need.code)
    return sum(max(0, after - before - need.most_days) for before, after in pairwise(days))


def _long_again(problem: Problem, sessions: list[Session]) -> int:
    long = [each for each in sessions if each.span.end - each.span.start >= problem.long_min]
    days = Counter((each.student, problem.day_of(each.span.start)) for each in long)
    return sum(times - 1 for times in days.values())


def _unfair(problem: Problem, places: tuple[Place, ...]) -> int:
    """0 + 1 + 2 + … over the sessions that each student goes without."""
    placed = Counter(each.need for each in places)
    without: dict[str, int] = defaultdict(int)
    for need in problem.needs:
        without[need.student] += problem.to_place[need.code] - placed[need.code]
    return sum(each * (each - 1) // 2 for each in without.values())


def _together(sessions: list[Session]) -> int:
    companies = Counter((each.drill, each.span.start, each.educator) for each in sessions)
    return sum(size - 1 for size in companies.values())


def _changed(problem: Problem, places: tuple[Place, ...]) -> int:
    """Bookings that no place keeps as they are in time, educator and room."""
    kept = {(each.need, each.span, each.educator, each.room) for each in places}
    return sum((each.need, each.span, each.educator, each.room) not in kept for each in problem.movable)
