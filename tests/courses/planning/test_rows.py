"""Rows of overlapping intervals, beside counting minute by minute."""

import numpy as np

from courses.planning.candidates import candidates
from courses.planning.problem import Bench, Head
from courses.planning.rows import head_rows, overlaps, room_rows, runs, starts_of, student_rows
from tests.courses.planning.schools import a_need, hours, one_bench


def test_overlaps_at_points_are_those_counted_by_hand():
    start, end = np.array([0, 2, 4]), np.array([3, 5, 6])
    found = {point: members.tolist() for point, members in overlaps(start, end, np.array([0, 2, 4, 9]))}
    assert found == {0: [0], 1: [0, 1], 2: [1, 2]}


def test_the_points_of_starts_reach_the_greatest_overlap():
    # The classic argument: a largest clique of intervals contains the one that starts last in it.
    rng = np.random.default_rng(2)
    for _ in range(30):
        start = rng.integers(0, 30, 8)
        end = start + rng.integers(1, 10, 8)
        by_points = max(len(members) for _, members in overlaps(start, end, np.unique(start)))
        by_minutes = max(int(((start <= minute) & (minute < end)).sum()) for minute in range(40))
        assert by_points == by_minutes


def test_runs_keep_members_of_a_key_together():
    assert [each.tolist() for each in runs(np.array([2, 1, 2]), np.array([7, 8, 9]))] == [[8], [7, 9]]
    assert list(runs(np.zeros(0, int), np.zeros(0, int))) == []


def test_a_start_stands_for_all_its_educators_and_rooms():
    room = one_bench().rooms[0]
    twice = (room, type(room)("r1", "Room B", room.open, (Bench("b2", "Bench 2"),)))
    found = candidates(one_bench(rooms=twice))
    starts = starts_of(found)
    assert (len(found), len(starts)) == (12, 6) and starts.of.tolist() == sorted([*range(6), *range(6)])


def two_students(**changes):
    return one_bench(needs=(a_need("n1"), a_need("n2", student="noor")), **changes)


def test_one_bench_seats_one_and_two_seat_both():
    found = candidates(two_students())
    rows = list(room_rows(two_students(), found))
    assert len(rows) == 6 and {row.most for row in rows} == {1}
    room = one_bench().rooms[0]
    roomy = type(room)("r0", "Room A", room.open, (Bench("b1", "Bench 1"), Bench("b2", "Bench 2")))
    assert list(room_rows(two_students(rooms=(roomy,)), candidates(two_students(rooms=(roomy,))))) == []


def test_a_closed_bench_does_not_count_while_it_is_closed():
    room = one_bench().rooms[0]
    benches = (Bench("b1", "Bench 1"), Bench("b2", "Bench 2", (hours(0, 10, 11),)))
    problem = two_students(rooms=(type(room)("r0", "Room A", room.open, benches),))
    found = candidates(problem)
    [row] = room_rows(problem, found)
    assert row.most == 1 and set(found.start[row.members].tolist()) == {hours(0, 10, 11).start}


def test_heads_count_by_the_layers_that_are_needed():
    needs = (a_need("n1", layers=2), a_need("n2", student="noor"))
    problem = one_bench(needs=needs, heads=(Head("h1", "Head 1", 2), Head("h2", "Head 2", 1)))
    assert list(head_rows(problem, starts_of(candidates(problem)))) == []
    both = one_bench(needs=(needs[0], a_need("n2", student="noor", layers=2)), heads=problem.heads)
    assert [row.most for row in head_rows(both, starts_of(candidates(both)))] == [1] * 6


def test_sessions_of_a_skill_share_the_days_that_keep_them_apart():
    problem = one_bench(needs=(a_need("n1", sessions=2, least_days=2),))
    starts = starts_of(candidates(problem))
    rows = [row.members.tolist() for row in student_rows(problem, starts)]
    assert [0, 1, 2, 3, 4, 5] in rows  # Monday and Tuesday together
