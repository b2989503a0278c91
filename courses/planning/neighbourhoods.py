"""Which part of a plan to solve anew: some days, maybe of one educator, and the needs that could use them."""

from dataclasses import dataclass

import numpy as np

from courses.planning.candidates import Mask
from courses.planning.tables import Tables

PART = 700  # candidates that a part may have: it is then solved in a fraction of a second
LONGEST = 3  # days in a row
OTHERS = 10  # needs placed elsewhere that could come


@dataclass(frozen=True, slots=True)
class Neighbourhood:
    """``free`` needs may move, but only to candidates that are ``within``."""

    free: Mask
    within: Mask


def draw(tables: Tables, taken: Mask, rng: np.random.Generator, times: int) -> list[Neighbourhood]:
    """Up to so many that touch no common day and no common student, so that all can be solved at once."""
    left = np.ones(len(tables.problem.day_starts) - 1, bool)
    students = _students(tables)
    idle = np.ones(len(students), bool)
    drawn = []
    for _ in range(times):
        within = _within(tables, taken, rng) & left[tables.found.day]
        free = _free(tables, taken, within, idle, rng)
        if free.any():
            drawn.append(Neighbourhood(free, within))
            left[np.unique(tables.found.day[within])] = False
            idle &= ~np.isin(students, students[free])
    return drawn


def _students(tables: Tables) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    return np.unique([each.student for each in tables.problem.needs], return_inverse=True)[1]


def _within(tables: Tables, taken: Mask, rng: np.random.Generator) -> Mask:
    found, days = tables.found, len(tables.problem.day_starts) - 1
    short = np.flatnonzero(_missing(tables, taken) & np.isin(np.arange(len(tables.to_place)), found.need))
    kind, first = rng.choice(("days", "days", "educator", "unplaced")), int(rng.integers(days))
    if kind == "unplaced" and len(short):
        its_days = np.unique(found.day[found.need == rng.choice(short)])
        return np.isin(found.day, rng.choice(its_days, min(2, len(its_days)), replace=False))
    if kind == "educator":
        mine = found.educator == rng.integers(len(tables.problem.educators))
        return np.asarray(mine & (found.day >= first) & (found.day < first + 7))
    last = first + int(rng.integers(1, LONGEST + 1))
    return np.asarray((found.day >= first) & (found.day < last))


def _missing(tables: Tables, taken: Mask) -> Mask:
    placed = np.bincount(tables.found.need[taken], minlength=len(tables.to_place))
    missing: Mask = placed < tables.to_place
    return missing


def _free(tables: Tables, taken: Mask, within: Mask, idle: Mask, rng: np.random.Generator) -> Mask:
    """Needs placed there, needs that miss a session and some others, at random, up to the size of a part."""
    count = len(tables.to_place)
    sizes = np.bincount(tables.found.need[within], minlength=count)
    here = np.bincount(tables.found.need[within & taken], minlength=count) > 0
    able = (sizes > 0) & idle
    wanting = here | _missing(tables, taken)
    others = rng.permutation(np.flatnonzero(able & ~wanting))[:OTHERS]
    pool = rng.permutation(np.concatenate([np.flatnonzero(able & wanting), others]))
    free, total = np.zeros(count, bool), 0
    for need in pool:
        if total + sizes[need] <= PART:
            total += int(sizes[need])
            free[need] = True
    return free
