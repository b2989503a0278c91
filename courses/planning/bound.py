"""More than this no plan can be worth: the linear relaxation of the rules, solved by HiGHS (dual simplex).

Here an educator may split her time between duties, and a student who could meet c - 1 others on her drill
earns the share (c - 1) / c of the points for company, which is what each has in a full group of c.
"""

from math import floor
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from courses.planning.candidates import Ints
from courses.planning.objective import value_of
from courses.planning.tables import Rows, Tables, settle

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Reals = NDArray[np.float64]
ROUNDING = 1e-6


def value_bound(tables: Tables, time_limit_s: float) -> int:
    """Whole points, rounded down; the simple bound when the time runs out."""
    if not len(tables.found):
        return simple_bound(tables)
    relaxed = _relaxation(tables, _gains(tables), time_limit_s)
    return simple_bound(tables) if relaxed is None else min(simple_bound(tables), relaxed)


def simple_bound(tables: Tables) -> int:
    """Each session at its best place, whatever the others do."""
    best = np.zeros(len(tables.to_place))
    np.maximum.at(best, tables.found.need, _gains(tables))
    return settled_points(tables) + floor(float((best * tables.to_place).sum()) + ROUNDING)


def settled_points(tables: Tables) -> int:
    """Points of frozen bookings together, of their long days, and of movable bookings were none kept."""
    nothing = value_of(tables.problem, ())
    return nothing.together + nothing.long_again + nothing.changed


def _gains(tables: Tables) -> Reals:
    return tables.found.points + tables.problem.weights.together * _company_shares(tables)


def _company_shares(tables: Tables) -> Reals:
    """The most that each candidate may earn in company, in shares of the weight."""
    found, problem = tables.found, tables.problem
    capacity = [problem.kind_by_code[each.kind].capacity for each in problem.needs]
    shares = np.zeros(len(found))
    for duty, members in tables.duties.split(np.ones(len(found), bool)):
        if tables.is_company[duty]:
            size = min(len(np.unique(found.need[members])), capacity[found.need[members[0]]])
            share = 1.0 if tables.held[duty] else 1 - 1 / size
            shares[members] = np.maximum(shares[members], share)
    return shares


def _relaxation(tables: Tables, gains: Reals, time_limit_s: float) -> int | None:
    from scipy.optimize import linprog
    from scipy.sparse import csr_array, hstack, vstack

    rows, most = _capacity_rows(tables)
    unfair, wanted = _unfair_rows(tables)
    beyond = unfair.shape[1] - len(gains)
    matrix = vstack([hstack([rows, csr_array((rows.shape[0], beyond))]), unfair], format="csr")
    costs = np.concatenate([-gains, np.full(beyond, tables.problem.weights.unfair)])
    nobody = np.zeros(len(gains), bool)
    is_open = settle(tables, nobody, np.ones(len(tables.to_place), bool)).open
    upper = np.concatenate([is_open.astype(float), np.full(beyond, np.inf)])
    answer = linprog(
        costs,
        A_ub=matrix,
        b_ub=np.concatenate([most, -wanted]),
        bounds=list(zip(np.zeros(len(costs)).tolist(), upper.tolist(), strict=True)),
        method="highs-ds",
        options={"time_limit": max(0.01, time_limit_s)},
    )
    if answer.status != 0 or answer.fun is None:
        return None
    value = -float(answer.fun)
    return settled_points(tables) + floor(value + ROUNDING * max(1.0, abs(value)))


def _capacity_rows(tables: Tables) -> "tuple[csr_array, Reals]":
    from scipy.sparse import csr_array, vstack

    found, count = tables.found, len(tables.found)
    to_starts = _pairs(tables.starts.of, np.arange(count), (len(tables.starts), count))
    duties = _matrix(tables.duties, count)
    shares = csr_array(duties.multiply(1 / np.maximum(1, tables.duties.most)[:, None]))
    alone = np.setdiff1d(np.flatnonzero(~tables.is_company), tables.exclusive.members)
    parts = [
        _pairs(found.need, np.arange(count), (len(tables.to_place), count)),
        _matrix(tables.start_rows, len(tables.starts)) @ to_starts,
        _matrix(tables.room_rows, count),
        _matrix(tables.exclusive, len(tables.duties.most)) @ shares,
        shares[alone],
    ]
    ones = np.ones(len(tables.exclusive.most) + len(alone))
    most = [tables.to_place, tables.start_rows.most, tables.room_rows.most, ones]
    return csr_array(vstack(parts)), np.concatenate(most).astype(float)


def _unfair_rows(tables: Tables) -> "tuple[csr_array, Reals]":
    """By student and nth session: what is placed and the sessions beyond the nth make up all she needs."""
    from scipy.sparse import csr_array, hstack

    codes = [each.student for each in tables.problem.needs]
    student = np.unique(codes, return_inverse=True)[1]
    total = np.bincount(student, weights=tables.to_place).astype(int)
    who = np.repeat(np.arange(len(total)), np.maximum(0, total - 1))
    nth = np.concatenate([np.arange(1, max(1, each)) for each in total])
    mine = _pairs(student[tables.found.need], np.arange(len(tables.found)), (len(total), len(tables.found)))
    beyond = csr_array(-np.eye(len(who)))
    return csr_array(hstack([-mine[who], beyond])), (total[who] - nth).astype(float)


def _matrix(rows: Rows, columns: int) -> "csr_array":
    return _pairs(rows.row, rows.members, (len(rows.most), columns))


def _pairs(row: Ints, column: Ints, shape: tuple[int, int]) -> "csr_array":
    from scipy.sparse import csr_array

    return csr_array((np.ones(len(row)), (row, column)), shape=shape)
