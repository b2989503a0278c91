"""The one room that knows the solver: CP-SAT of OR-Tools, a search over clauses with a linear relaxation.

A problem of up to `WHOLE` candidates is solved in one piece, to proof. A larger one is improved by parts
(large neighbourhood search: Shaw 1998): some needs are freed, all others stand, and the part is solved.
"""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from math import floor, inf
from time import perf_counter
from typing import TYPE_CHECKING

import numpy as np

from courses.planning.bound import ROUNDING, settled_points, simple_bound, value_bound
from courses.planning.candidates import Ints, Mask
from courses.planning.first_plan import first_plan
from courses.planning.neighbourhoods import Neighbourhood, draw
from courses.planning.placing import forbid, named_places, seat, worth
from courses.planning.problem import Plan, Problem, Progress
from courses.planning.rows import runs
from courses.planning.tables import Settled, Tables, long_days, settle, students_of, tables_of

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel, IntVar

WHOLE = 3000  # candidates that are solved in one piece, in about a second
AGAIN = 20  # times that a whole plan is made anew because benches or heads could not be told apart
BOUND_SHARE = 0.7  # of the time may be spent on the bound, beside the search
PART_EFFORT = 0.15  # deterministic time of the solver for one part, some tenths of a second
ROUNDS_A_SECOND = 2  # with a seed, the limit is counted in rounds

OnProgress = Callable[[Progress], None]


@dataclass
class _Search:
    """One call of `solve`. ``seed`` None: by the clock."""

    tables: Tables
    time_limit_s: float
    seed: int | None
    workers: int
    on_progress: OnProgress | None
    began: float

    def tell(self, value: int, bound: int) -> None:
        if self.on_progress is not None:
            self.on_progress(Progress(perf_counter() - self.began, value, bound))

    @property
    def seconds_left(self) -> float:
        return max(0.0, self.time_limit_s - (perf_counter() - self.began))

    def is_over(self, rounds: int) -> bool:
        if self.seed is None:
            return self.seconds_left <= 0
        return rounds >= self.time_limit_s * ROUNDS_A_SECOND


def solve(
    problem: Problem,
    *,
    time_limit_s: float = 60.0,
    seed: int | None = None,
    workers: int = 2,
    on_progress: OnProgress | None = None,
) -> Plan:
    """The best plan found in the time, with a bound on every plan; it keeps every rule whenever it ends.

    Without a ``seed`` the limit is wall time. With one, the same problem, seed and workers give the same
    places on every machine: the limit is then counted in steps that take about as long on an idle machine.
    """
    began = perf_counter()
    search = _Search(tables_of(problem), time_limit_s, seed, workers, on_progress, began)
    taken, _ = seat(search.tables, first_plan(search.tables))
    bound = simple_bound(search.tables)
    search.tell(worth(search.tables, taken), bound)
    if len(search.tables.found) <= WHOLE:
        taken, bound = _solve_whole(search, taken, bound)
    else:
        taken, bound = _improve_by_parts(search, taken, bound)
    value = worth(search.tables, taken)
    places = named_places(search.tables, taken)
    return Plan(places, value, bound, bound <= value, perf_counter() - began)


def _solve_whole(search: _Search, taken: Mask, bound: int) -> tuple[Mask, int]:
    """Anew without them, when sessions that fit by count find no bench or head to themselves."""
    everybody, effort = np.ones(len(search.tables.to_place), bool), search.time_limit_s
    for _ in range(AGAIN):
        settled = settle(search.tables, taken, everybody)
        part = _part(search.tables, settled, everybody, taken)
        answer = _answer(part, search, inf if search.seed is None else effort, listen=True)
        best, lost = seat(search.tables, answer.taken)
        bound, taken = min(bound, answer.bound), _better(search.tables, taken, best)
        if not lost.any() or not answer.is_proven or search.is_over(0):
            break
        search.tables = forbid(search.tables, answer.taken, lost)
    return taken, bound


def _improve_by_parts(search: _Search, taken: Mask, bound: int) -> tuple[Mask, int]:
    tables, rng, rounds = search.tables, np.random.default_rng(search.seed or 0), 0
    with ThreadPoolExecutor(search.workers) as pool:
        relaxed = pool.submit(value_bound, tables, BOUND_SHARE * search.time_limit_s)
        while not search.is_over(rounds):
            drawn = draw(tables, taken, rng, search.workers)
            parts = [_part_of(tables, taken, each) for each in drawn]
            answers = list(pool.map(lambda part: _answer(part, search, PART_EFFORT), parts))
            rounds += 1
            better = _better(tables, taken, _merged(tables, taken, parts, answers))
            if better is not taken:
                taken = better
                search.tell(worth(tables, taken), relaxed.result() if relaxed.done() else bound)
            if search.seed is None and relaxed.done() and relaxed.result() <= worth(tables, taken):
                break
        return taken, min(bound, relaxed.result())


def _part_of(tables: Tables, taken: Mask, drawn: Neighbourhood) -> "_Part":
    now = taken & drawn.free[tables.found.need]
    settled = settle(tables, taken, drawn.free)
    return _part(tables, replace(settled, open=settled.open & drawn.within | now), drawn.free, now)


def _merged(tables: Tables, taken: Mask, parts: list["_Part"], answers: list["_Answer"]) -> Mask:
    """Parts have no day and no student in common, so that none gets in another's way."""
    merged = taken.copy()
    for part, answer in zip(parts, answers, strict=True):
        mine = part.free[tables.found.need]
        merged[mine] = answer.taken[mine]
    return merged


def _better(tables: Tables, old: Mask, new: Mask) -> Mask:
    """The new one if it is worth as much and everybody has a bench and a head."""
    if worth(tables, new) < worth(tables, old) or seat(tables, new)[1].any():
        return old
    return new


@dataclass(frozen=True, slots=True)
class _Answer:
    taken: Mask
    bound: int
    is_proven: bool


def _answer(part: "_Part", search: _Search, effort: float, *, listen: bool = False) -> _Answer:
    """What the solver makes of a part; the plan so far when it finds nothing in time."""
    from ortools.sat.python.cp_model import FEASIBLE, OPTIMAL, CpSolver, CpSolverSolutionCallback

    class Listener(CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            search.tell(round(self.objective_value) + settled, floor(self.best_objective_bound) + settled)

    settled = settled_points(part.tables)
    solver = CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = 2  # companies and duties in the relaxation: without it no proof
    solver.parameters.random_seed = search.seed or 0
    solver.parameters.max_deterministic_time = effort
    if search.seed is None:
        solver.parameters.max_time_in_seconds = search.seconds_left
    status = solver.solve(part.model, Listener() if listen else None)
    if status not in (OPTIMAL, FEASIBLE):
        return _Answer(part.taken_now(), simple_bound(part.tables), False)
    taken = part.settled.taken.copy()
    for each, variable in part.taken.items():
        taken[each] = solver.boolean_value(variable)
    return _Answer(taken, floor(solver.best_objective_bound + ROUNDING) + settled, status == OPTIMAL)


@dataclass
class _Part:
    """The model of a part: ``taken`` and ``begun`` are the variables of its open candidates and their starts.

    Every variable comes with the value it has in the plan so far, so that the search begins there.
    """

    tables: Tables
    settled: Settled
    free: Mask
    model: "CpModel"
    taken: dict[int, "IntVar"]
    begun: dict[int, "IntVar"]
    terms: list["IntVar"]
    points: list[int]
    now: dict[int, int]

    def earn(self, variable: "IntVar", points: int) -> None:
        self.terms.append(variable)
        self.points.append(points)

    def flag(self, now: bool) -> "IntVar":
        return self._known(self.model.new_bool_var(""), int(now))

    def count(self, most: int, now: int) -> "IntVar":
        return self._known(self.model.new_int_var(0, most, ""), now)

    def sum_now(self, variables: Iterable["IntVar"]) -> int:
        return sum(self.now[each.index] for each in variables)

    def taken_now(self) -> Mask:
        taken = self.settled.taken.copy()
        taken[list(self.taken)] = [bool(self.now[each.index]) for each in self.taken.values()]
        return taken

    def limit(self, variables: list["IntVar"], most: int) -> None:
        if most == 1 and len(variables) > 1:
            self.model.add_at_most_one(variables)
        elif len(variables) > most:
            self.model.add(sum(variables) <= most)

    def _known(self, variable: "IntVar", now: int) -> "IntVar":
        self.now[variable.index] = now
        self.model.add_hint(variable, now)
        return variable


def _part(tables: Tables, settled: Settled, free: Mask, now: Mask) -> _Part:
    from ortools.sat.python.cp_model import CpModel, LinearExpr

    part, seats = _Part(tables, settled, free, CpModel(), {}, {}, [], [], {}), np.flatnonzero(settled.open)
    part.taken.update((each, part.flag(bool(now[each]))) for each in seats.tolist())
    for inside in runs(tables.starts.of[seats], seats):
        part.begun[int(tables.starts.of[inside[0]])] = _any_of(
            part, [part.taken[seat] for seat in inside.tolist()]
        )
    for each, variable in part.taken.items():
        part.earn(variable, int(tables.found.points[each]))
    for build in (_limit_needs, _limit_rows, _assign_duties, _be_fair, _rest_from_long, _keep_near):
        build(part)
    part.model.maximize(LinearExpr.weighted_sum(part.terms, part.points))
    return part


def _any_of(part: _Part, variables: list["IntVar"]) -> "IntVar":
    if len(variables) == 1:
        return variables[0]
    either = part.flag(part.sum_now(variables) > 0)
    part.model.add(sum(variables) == either)
    return either


def _by_need(part: _Part) -> dict[int, list[int]]:
    """Open starts by need."""
    starts = np.array(list(part.begun), int)
    needs = part.tables.starts.need[starts]
    return {int(part.tables.starts.need[inside[0]]): inside.tolist() for inside in runs(needs, starts)}


def _limit_needs(part: _Part) -> None:
    for need, starts in _by_need(part).items():
        part.limit([part.begun[start] for start in starts], int(part.tables.to_place[need]))


def _limit_rows(part: _Part) -> None:
    tables, settled = part.tables, part.settled
    open_starts = np.zeros(len(tables.starts), bool)
    open_starts[list(part.begun)] = True
    for row, members in tables.start_rows.split(open_starts):
        part.limit([part.begun[each] for each in members.tolist()], int(settled.start_left[row]))
    for row, members in tables.room_rows.split(settled.open):
        part.limit([part.taken[each] for each in members.tolist()], int(settled.room_left[row]))


def _assign_duties(part: _Part) -> None:
    tables, settled = part.tables, part.settled
    members = dict(tables.duties.split(settled.open))
    choices = _choices(part, members)
    torn = {duty for choice in choices for duty in choice}
    on: dict[int, IntVar] = {}
    for duty, inside in members.items():
        variables, most = [part.taken[each] for each in inside.tolist()], int(settled.duty_left[duty])
        is_company, is_on = bool(tables.is_company[duty]), bool(settled.duty_on[duty])
        if duty in torn or (is_company and not is_on):
            on[duty] = _on(part, variables, most, each_alone=is_company)
        else:
            part.limit(variables, most)
        if is_company:
            _reward_company(part, variables, None if is_on else on[duty])
    for choice in choices:
        part.model.add_at_most_one([on[duty] for duty in choice])


def _choices(part: _Part, members: dict[int, Ints]) -> list[list[int]]:
    """Duties between which an educator is torn: more than one possible, none on yet."""
    possible = np.zeros(len(part.tables.duties.most), bool)
    possible[list(members)] = True
    used = part.tables.duties.used(part.settled.taken) > 0
    decided = part.tables.exclusive.used(used) > 0
    groups = part.tables.exclusive.split(possible)
    return [group.tolist() for row, group in groups if len(group) > 1 and not decided[row]]


def _on(part: _Part, variables: list["IntVar"], most: int, *, each_alone: bool) -> "IntVar":
    """Whether any of them is taken; told one by one as well, the relaxation cannot split it."""
    if len(variables) == 1:
        return variables[0]
    on = part.flag(part.sum_now(variables) > 0)
    if most < len(variables) or not each_alone:
        part.model.add(sum(variables) <= min(most, len(variables)) * on)
    if each_alone:
        for variable in variables:
            part.model.add_implication(variable, on)
    return on


def _reward_company(part: _Part, variables: list["IntVar"], on: "IntVar | None") -> None:
    """Each beyond the first; with somebody there already (no ``on``), each."""
    weight = part.tables.problem.weights.together
    if on is not None and len(variables) == 1:
        return
    for variable in variables:
        part.earn(variable, weight)
    if on is not None:
        part.earn(on, -weight)


def _be_fair(part: _Part) -> None:
    tables, by_need = part.tables, _by_need(part)
    fixed = np.bincount(tables.found.need[part.settled.taken], minlength=len(tables.to_place))
    students = students_of(tables.problem)
    for student in np.unique(students[part.free]):
        needs = np.flatnonzero(students == student)
        wanted = int(tables.to_place[needs].sum() - fixed[needs].sum())
        placed = [part.begun[start] for need in needs.tolist() for start in by_need.get(need, ())]
        without = wanted - part.sum_now(placed)
        for nth in range(1, wanted):
            beyond = part.count(wanted - nth, max(0, without - nth))
            part.model.add(beyond + sum(placed) >= wanted - nth)
            part.earn(beyond, -tables.problem.weights.unfair)


def _rest_from_long(part: _Part) -> None:
    tables, problem, base = part.tables, part.tables.problem, long_days(part.tables, part.settled.taken)
    is_long = tables.starts.end - tables.starts.start >= problem.long_min
    starts = np.array([each for each in part.begun if is_long[each]], int)
    students = students_of(problem)[tables.starts.need[starts]]
    for inside in runs(students * len(problem.day_starts) + tables.starts.day[starts], starts):
        needs = tables.starts.need[inside]
        begun = [part.begun[each] for each in inside.tolist()]
        if (problem.needs[needs[0]].student, int(tables.starts.day[inside[0]])) in base:
            for each in begun:
                part.earn(each, -problem.weights.long_again)
        elif len(np.unique(needs)) > 1:
            again = part.count(len(begun), max(0, part.sum_now(begun) - 1))
            part.model.add(again >= sum(begun) - 1)
            part.earn(again, -problem.weights.long_again)


def _keep_near(part: _Part) -> None:
    tables, problem, by_need = part.tables, part.tables.problem, _by_need(part)
    frozen = [(each.need, problem.day_of(each.span.start)) for each in problem.frozen]
    for place in np.flatnonzero(part.free).tolist():
        need = problem.needs[place]
        days: dict[int, list[IntVar]] = {}
        for start in by_need.get(place, ()):
            days.setdefault(int(tables.starts.day[start]), []).append(part.begun[start])
        held = {day for code, day in frozen if code == need.code}
        days |= {day: [] for day in held}
        count = int(tables.to_place[place]) + len(held)
        if count > 1 and days and max(days) - min(days) > need.most_days:
            _count_days_apart(part, days, held, need.most_days)


def _count_days_apart(part: _Part, days: dict[int, list["IntVar"]], held: set[int], most: int) -> None:
    """A day counts when sessions lie before and after it, but none in its last ``most`` days."""
    model, span = part.model, range(min(days), max(days) + 1)
    here = {day: 1 if day in held else sum(days.get(day, [])) for day in span}
    now = {day: 1 if day in held else part.sum_now(days.get(day, [])) for day in span}
    before = {day: part.flag(any(now[each] for each in range(span[0], day + 1))) for day in span}
    after = {day: part.flag(any(now[each] for each in range(day, span[-1] + 1))) for day in span}
    for day in span:
        model.add(before[day] >= here[day])
        model.add(after[day] >= here[day])
        if day > span[0]:
            model.add_implication(before[day - 1], before[day])
            model.add_implication(after[day], after[day - 1])
    for day in range(span[0] + most, span[-1]):
        recent = range(day - most + 1, day + 1)
        bare = not any(now[each] for each in recent)
        ends = part.now[before[day - most].index] and part.now[after[day + 1].index]
        beyond = part.flag(bool(bare and ends))
        model.add(beyond >= before[day - most] + after[day + 1] - 1 - sum(here[each] for each in recent))
        part.earn(beyond, -part.tables.problem.weights.apart_day)
