"""What a settled part of a plan leaves open."""

import numpy as np

from courses.planning.problem import Bench
from courses.planning.rows import Row
from courses.planning.tables import settle, tables_of, with_row
from tests.courses.planning.schools import a_need, one_bench

BOTH = (a_need("n1"), a_need("n2", student="noor"))


def test_with_nobody_settled_every_candidate_is_open():
    tables = tables_of(one_bench(needs=BOTH))
    settled = settle(tables, np.zeros(len(tables.found), bool), np.ones(2, bool))
    assert settled.open.all() and len(settled.open) == 12 and not settled.taken.any()


def test_a_taken_bench_is_shut_for_the_other_student():
    tables = tables_of(one_bench(needs=BOTH))
    taken = np.zeros(12, bool)
    taken[0] = True
    settled = settle(tables, taken, np.array([False, True]))
    assert np.flatnonzero(settled.open).tolist() == [7, 8, 9, 10, 11]


def test_a_duty_that_is_on_bars_the_others():
    room = one_bench().rooms[0]
    roomy = type(room)("r0", "Room A", room.open, (Bench("b1", "1"), Bench("b2", "2")))
    heads = (*one_bench().heads, type(one_bench().heads[0])("h2", "Head 2", 2))
    needs = (a_need("n1"), a_need("n2", student="noor", kind="drill"))
    tables = tables_of(one_bench(needs=needs, rooms=(roomy,), heads=heads))
    taken = np.zeros(12, bool)
    taken[3] = True
    assert not settle(tables, taken, np.array([False, True])).open[9]
    assert settle(tables, np.zeros(12, bool), np.array([False, True])).open[9]


def test_one_more_row_binds_like_the_others():
    tables = with_row(tables_of(one_bench(needs=BOTH)), Row(np.array([0, 7]), 1))
    taken = np.zeros(12, bool)
    taken[0] = True
    assert not settle(tables, taken, np.array([False, True])).open[7]
