"""A first plan without a solver: needs in order of urgency, each session at its best place still open."""

from dataclasses import dataclass

import numpy as np

from courses.planning.candidates import Ints, Mask
from courses.planning.tables import Rows, Tables


@dataclass(frozen=True, slots=True)
class _Counter:
    """Rows with what is left of them, and the rows of each member."""

    rows: Rows
    left: Ints
    order: Ints
    sorted_members: Ints

    def rows_of(self, member: int) -> Ints:
        low, high = np.searchsorted(self.sorted_members, (member, member + 1))
        return self.rows.row[self.order[low:high]]

    def members_of(self, row: int) -> Ints:
        low, high = np.searchsorted(self.rows.row, (row, row + 1))
        return self.rows.members[low:high]

    def take(self, member: int) -> list[int]:
        """Rows that are full once the member is taken."""
        mine = self.rows_of(member)
        self.left[mine] -= 1
        return [int(row) for row in mine if self.left[row] <= 0]


@dataclass(frozen=True)
class _State:
    tables: Tables
    starts: _Counter
    rooms: _Counter
    duties: _Counter
    exclusive: _Counter
    on: Mask
    taken: Mask
    shut: Mask
    shut_starts: Mask


def first_plan(tables: Tables) -> Mask:
    """Candidates taken; keeps every rule. What is booked stays if it can, then come priority and due date."""
    state = _begin(tables)
    stays = np.array([each is not None for each in tables.found.stays], bool)
    left = tables.to_place.copy()
    for seat in np.flatnonzero(stays):
        need = tables.found.need[seat]
        if left[need] and _is_open(state, np.array([seat]))[0]:
            _take(state, int(seat))
            left[need] -= 1
    bounds = np.searchsorted(tables.found.need, np.arange(len(left) + 1))
    for need in _by_urgency(tables):
        seats = np.arange(bounds[need], bounds[need + 1])
        for _ in range(left[need]):
            best = _best(state, seats)
            if best is None:
                break
            _take(state, best)
    return state.taken


def _begin(tables: Tables) -> _State:
    state = _State(
        tables=tables,
        starts=_counter(tables.start_rows),
        rooms=_counter(tables.room_rows),
        duties=_counter(tables.duties),
        exclusive=_counter(tables.exclusive),
        on=tables.held > 0,
        taken=np.zeros(len(tables.found), bool),
        shut=np.zeros(len(tables.found), bool),
        shut_starts=np.zeros(len(tables.starts), bool),
    )
    for counter, shut in (
        (state.starts, state.shut_starts),
        (state.rooms, state.shut),
        (state.duties, state.shut),
    ):
        for row in np.flatnonzero(counter.left <= 0):
            shut[counter.members_of(int(row))] = True
    return state


def _counter(rows: Rows) -> _Counter:
    order = np.argsort(rows.members, kind="stable")
    return _Counter(rows, rows.most.copy(), order, rows.members[order])


def _by_urgency(tables: Tables) -> list[int]:
    needs = tables.problem.needs
    return sorted(range(len(needs)), key=lambda place: (-needs[place].priority, needs[place].due, place))


def _is_open(state: _State, seats: Ints) -> Mask:
    return ~state.shut[seats] & ~state.shut_starts[state.tables.starts.of[seats]] & ~state.taken[seats]


def _best(state: _State, seats: Ints) -> int | None:
    """Most points, then beside others on the same drill, then the earliest."""
    seats = seats[_is_open(state, seats)]
    if not len(seats):
        return None
    company = np.array([_has_company(state, int(seat)) for seat in seats], int)
    points = state.tables.found.points[seats] + state.tables.problem.weights.together * company
    return int(seats[np.argmax(points)])


def _has_company(state: _State, seat: int) -> bool:
    duties = state.duties.rows_of(seat)
    return bool((state.on[duties] & state.tables.is_company[duties]).any())


def _take(state: _State, seat: int) -> None:
    state.taken[seat] = True
    start = int(state.tables.starts.of[seat])
    for row in state.starts.take(start):
        state.shut_starts[state.starts.members_of(row)] = True
    state.shut_starts[start] = True
    for counter in (state.rooms, state.duties):
        for row in counter.take(seat):
            state.shut[counter.members_of(row)] = True
    for duty in state.duties.rows_of(seat):
        if not state.on[duty]:
            state.on[duty] = True
            _bar_others(state, int(duty))


def _bar_others(state: _State, duty: int) -> None:
    for group in state.exclusive.rows_of(duty):
        for other in state.exclusive.members_of(int(group)):
            if other != duty:
                state.shut[state.duties.members_of(int(other))] = True
