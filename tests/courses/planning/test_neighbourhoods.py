"""Parts drawn at once have nothing in common, and the draw follows its seed."""

import numpy as np

from courses.planning.first_plan import first_plan
from courses.planning.neighbourhoods import PART, draw
from courses.planning.tables import tables_of
from tests.courses.planning.schools import school

PROBLEM = school(seed=2, weeks=4, needs=120, benches=12, rooms=2, educators=2)
TABLES = tables_of(PROBLEM)
TAKEN = first_plan(TABLES)


def drawn(seed, times=3):
    return draw(TABLES, TAKEN, np.random.default_rng(seed), times)


def test_parts_share_no_day_and_no_student():
    for seed in range(30):
        parts = drawn(seed)
        days = [set(TABLES.found.day[part.within].tolist()) for part in parts]
        students = [
            {PROBLEM.needs[need].student for need in np.flatnonzero(part.free).tolist()} for part in parts
        ]
        for sets in (days, students):
            assert sum(map(len, sets)) == len(set().union(*sets))


def test_a_part_stays_small_and_has_something_to_do():
    for seed in range(30):
        for part in drawn(seed):
            size = int((part.within & part.free[TABLES.found.need]).sum())
            assert 0 < size <= PART


def test_the_same_seed_draws_the_same_parts():
    first, second, other = drawn(7), drawn(7), drawn(8)
    assert [part.free.tolist() for part in first] == [part.free.tolist() for part in second]
    assert [part.free.tolist() for part in first] != [part.free.tolist() for part in other]


def test_every_need_comes_up_in_time():
    free = np.any([part.free for seed in range(200) for part in drawn(seed)], axis=0)
    assert free[np.unique(TABLES.found.need)].all()
