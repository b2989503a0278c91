"""Where one more session fits beside a plan."""

from courses.planning.openings import Opening, beside, opening
from courses.planning.problem import Bench
from tests.courses.planning.schools import a_need, at, booking, hours, one_bench

BOTH = (a_need("n1"), a_need("n2", student="noor"))


def test_the_first_hour_that_is_left_is_the_opening():
    problem = one_bench(needs=BOTH)
    left = beside(problem, (at(0, 9),), BOTH[1])
    assert opening(left) == Opening(hours(0, 10, 11), "ines", "r0")


def test_a_full_bench_leaves_no_opening():
    problem = one_bench(needs=(*BOTH, *(a_need(f"m{n}", drill="x", skill=f"s{n}") for n in range(6))))
    full = tuple(at(day, hour, need=f"m{3 * day + hour - 9}") for day in (0, 1) for hour in (9, 10, 11))
    assert opening(beside(problem, full, BOTH[1])) is None


def test_a_second_session_keeps_its_days_from_the_first():
    problem = one_bench(needs=(a_need("n1", sessions=2, least_days=2),))
    assert opening(beside(problem, (at(0, 9),), problem.needs[0])) is None
    close = one_bench(needs=(a_need("n1", sessions=2, least_days=1),))
    assert opening(beside(close, (at(0, 9),), close.needs[0])) == Opening(hours(1, 9, 10), "ines", "r0")


def test_frozen_bookings_of_others_count_too():
    room = one_bench().rooms[0]
    roomy = type(room)("r0", "Room A", room.open, (Bench("b1", "1"), Bench("b2", "2")))
    held = booking(0, 9, student="noor", need="n2", is_fixed=True)
    problem = one_bench(needs=BOTH, booked=(held,), rooms=(roomy,))
    assert opening(beside(problem, (), BOTH[0])) == Opening(hours(0, 10, 11), "ines", "r0")
