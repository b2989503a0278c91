from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from courses.planning.availability import EPOCH, QUARTER, Span, quarters
from courses.planning.free_places import Held, Wanted, free_places

MONDAY = datetime(2026, 3, 9, tzinfo=UTC)
ADA, INES, TOVA, FIRST, SECOND = 1, 11, 12, 21, 22


def at(hours: float) -> datetime:
    return MONDAY + timedelta(hours=hours)


def span(starts: float, ends: float) -> Span:
    return Span(at(starts), at(ends))


def wanted(**changes) -> Wanted:
    free = (span(9, 12),)
    return replace(Wanted(ADA, 90, 2, educators=(INES, TOVA), free=free, earliest=MONDAY), **changes)


WORKING = {INES: (span(9, 17),), TOVA: (span(9, 17),)}


def starts_of(found) -> list[float]:
    return [(place.starts - MONDAY) / timedelta(hours=1) for place in found]


def taken(key: int, starts: float, ends: float) -> set[tuple[int, int]]:
    return {(key, quarter) for quarter in quarters(at(starts), at(ends))}


def test_every_half_hour_that_leaves_room_for_the_whole_session():
    assert starts_of(free_places(wanted(), Held(), WORKING, [FIRST])) == [9, 9.5, 10, 10.5]


def test_nothing_starts_before_the_notice_has_passed():
    found = free_places(wanted(earliest=at(9.1)), Held(), WORKING, [FIRST])
    assert starts_of(found) == [9.5, 10, 10.5]


def test_a_bench_or_student_that_is_taken_leaves_the_times_around_it():
    assert starts_of(free_places(wanted(), Held(benches=taken(FIRST, 9, 10)), WORKING, [FIRST])) == [10, 10.5]
    assert starts_of(free_places(wanted(), Held(students=taken(ADA, 9, 10)), WORKING, [FIRST])) == [10, 10.5]


def test_the_next_bench_and_the_next_educator_step_in():
    seats = {(INES, quarter): [2, 2] for quarter in quarters(at(9), at(12))}
    (first, *_) = free_places(wanted(), Held(taken(FIRST, 9, 12), educators=seats), WORKING, [FIRST, SECOND])
    assert (first.bench, first.educator) == (SECOND, TOVA)


def test_a_session_for_one_leaves_no_seat_for_a_second():
    seats = {(INES, quarter): [1] for quarter in quarters(at(9), at(12))}
    alone = wanted(educators=(INES,), capacity=6)
    assert free_places(alone, Held(educators=seats), WORKING, [FIRST]) == []
    company = {key: [6] for key in seats}
    assert free_places(alone, Held(educators=company), WORKING, [FIRST])


def test_who_does_not_work_then_is_not_offered():
    found = free_places(wanted(educators=(INES,)), Held(), {INES: (span(10, 17),)}, [FIRST])
    assert starts_of(found) == [10, 10.5]


def test_a_quarter_is_a_quarter_of_an_hour_since_1970():
    assert quarters(EPOCH, EPOCH + QUARTER) == range(1)
    assert quarters(EPOCH + timedelta(minutes=7), EPOCH + timedelta(minutes=16)) == range(2)


@given(st.sets(st.integers(0, 15)), st.sets(st.integers(0, 15)))
def test_what_is_offered_touches_nothing_taken(benches, students):
    base = quarters(at(9), at(13)).start
    held = Held({(FIRST, base + n) for n in benches}, {(ADA, base + n) for n in students})
    found = free_places(wanted(free=(span(9, 13),)), held, WORKING, [FIRST])
    for place in found:
        needed = quarters(place.starts, place.starts + timedelta(minutes=90))
        assert not {quarter - base for quarter in needed} & (benches | students)
    offered = {quarters(place.starts, place.starts + timedelta(minutes=90)).start - base for place in found}
    fits = {n for n in range(0, 11, 2) if not set(range(n, n + 6)) & (benches | students)}
    assert offered == fits
