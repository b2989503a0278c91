"""What holds an educator: modes at an instant, groups, and company on one drill."""

from courses.planning.candidates import candidates
from courses.planning.duties import duties_of
from courses.planning.problem import Bench, Head
from tests.courses.planning.schools import a_need, booking, hours, one_bench

ROOM = type(one_bench().rooms[0])(
    "r0", "Room A", one_bench().rooms[0].open, (Bench("b1", "1"), Bench("b2", "2"))
)
HEADS = (Head("h1", "Head 1", 2), Head("h2", "Head 2", 2))


def duties(*needs, **changes):
    problem = one_bench(needs=needs, rooms=(ROOM,), heads=HEADS, **changes)
    return duties_of(problem, candidates(problem))


def test_a_supervised_kind_holds_as_many_as_its_capacity_at_each_start():
    found = duties(a_need("n1"), a_need("n2", student="noor"))
    assert [each.most for each in found.duties if not each.is_company] == [4] * 6
    assert found.exclusive == []


def test_two_kinds_at_one_instant_exclude_each_other():
    found = duties(a_need("n1"), a_need("n2", student="noor", kind="drill"))
    assert len(found.exclusive) == 6 and all(len(group) == 2 for group in found.exclusive)


def test_groups_on_different_drills_exclude_each_other():
    found = duties(a_need("n1", kind="drill"), a_need("n2", student="noor", kind="drill", drill="other"))
    assert len(found.exclusive) == 6
    same = duties(a_need("n1", kind="drill"), a_need("n2", student="noor", kind="drill"))
    assert same.exclusive == [] and [len(each.members) for each in same.duties] == [2] * 6


def test_students_on_the_same_drill_from_one_start_are_company():
    found = duties(a_need("n1"), a_need("n2", student="noor"))
    assert [len(each.members) for each in found.duties if each.is_company] == [2] * 6
    apart = duties(a_need("n1"), a_need("n2", student="noor", drill="other"))
    assert [each for each in apart.duties if each.is_company] == []


def test_a_frozen_booking_takes_a_seat_and_is_company():
    problem = one_bench(rooms=(ROOM,), heads=HEADS, booked=(booking(0, 9, student="noor", need=None),))
    found = candidates(problem)
    every = duties_of(problem, found).duties
    nine = hours(0, 9, 10).start
    assert [each.most for each in every if not each.is_company and found.start[each.members[0]] == nine] == [
        3
    ]
    assert [each.held for each in every if each.is_company] == [1]
