"""Starts, educators and rooms that suit one session, on cases small enough to list."""

from dataclasses import replace

import numpy as np
import pytest

from courses.planning.candidates import candidates, clear_of, sieve, union, within
from courses.planning.problem import Bench, Head, Span, Weights
from tests.courses.planning.schools import DAY, DRILL, MONDAY, a_need, booking, hours, one_bench


def found_hours(problem):
    """(day, hour) of each candidate."""
    minutes = candidates(problem).start - MONDAY
    return [(int(each // DAY), each % DAY / 60) for each in minutes]


def test_every_start_of_the_grid_within_all_times_is_a_candidate():
    assert found_hours(one_bench()) == [(0, 9), (0, 10), (0, 11), (1, 9), (1, 10), (1, 11)]


def test_half_hours_when_the_steps_are_half_hours():
    found = found_hours(one_bench(step_min=30, needs=(a_need("n1", earliest=MONDAY + DAY),)))
    assert found == [(1, 9), (1, 9.5), (1, 10), (1, 10.5), (1, 11)]


@pytest.mark.parametrize(
    "changes",
    [
        {"needs": (a_need("n1", skill="placement"),)},
        {"needs": (a_need("n1", layers=3),)},
        {"needs": (a_need("n1", length_min=240),)},
        {"needs": (a_need("n1", sessions=1),), "booked": (booking(3, 9, is_fixed=True),)},
        {"heads": ()},
        {"heads": (Head("h1", "Head 1", 2, MONDAY - 5 * DAY, 4),)},
        {"frozen_until": MONDAY + 2 * DAY},
    ],
)
def test_there_is_none_when_one_thing_is_missing(changes):
    assert found_hours(one_bench(**changes)) == []


def test_the_last_minute_of_the_strip_still_serves():
    strip = Head("h1", "Head 1", 2, hours(0, 10, 11).end - 3 * DAY, 3)
    assert found_hours(one_bench(heads=(strip,))) == [(0, 9), (0, 10)]


def test_frozen_bookings_hold_student_bench_and_days():
    need = a_need("n1", sessions=2, least_days=1)
    held = booking(0, 10, is_fixed=True)
    assert found_hours(one_bench(needs=(need,), booked=(held,))) == [(1, 9), (1, 10), (1, 11)]
    noor = booking(0, 10, student="noor", need=None)
    assert found_hours(one_bench(booked=(noor,)))[:2] == [(0, 9), (0, 11)]


def test_a_group_is_joined_only_on_its_drill_at_its_time():
    room = replace(one_bench().rooms[0], benches=(Bench("b1", "Bench 1"), Bench("b2", "Bench 2")))
    heads = (Head("h1", "Head 1", 2), Head("h2", "Head 2", 2))
    noor = booking(0, 10, student="noor", need=None, kind="drill")
    ada = a_need("n1", kind="drill")
    school = {"kinds": (DRILL,), "rooms": (room,), "heads": heads, "booked": (noor,), "step_min": 30}
    assert found_hours(one_bench(needs=(ada,), **school))[:4] == [(0, 9), (0, 10), (0, 11), (1, 9)]
    other = replace(ada, drill="other")
    assert found_hours(one_bench(needs=(other,), **school))[:3] == [(0, 9), (0, 11), (1, 9)]


def test_a_booking_off_the_grid_is_a_candidate_of_its_own_need():
    start = hours(0, 9, 10).start + 20
    late = booking(0, 9, span=Span(start, start + 60))
    found = candidates(one_bench(booked=(late,)))
    assert [code for code in found.stays if code] == ["b1"]
    assert int(found.start[found.stays.index("b1")]) == start


def test_points_fall_by_day_once_it_is_late_and_rise_where_a_booking_stays():
    weights = Weights(placed=100, late_day=8, changed=33)
    need = a_need("n1", due=MONDAY + 600, priority=2)
    found = candidates(one_bench(needs=(need,), booked=(booking(1, 9),), weights=weights))
    assert found.points.tolist() == [200, 200, 200, 184 + 33, 184, 184]


def test_the_sieve_tells_which_rule_shuts_a_start():
    sifted = sieve(one_bench(booked=(booking(0, 9, need=None),)), a_need("n1"))
    monday_ten = int(np.flatnonzero(sifted.starts == hours(0, 10, 11).start)[0])
    assert not sifted.spaced[monday_ten] and sifted.student_free[monday_ten]


def test_spans_that_touch_are_joined():
    assert union([Span(5, 9), Span(0, 3), Span(3, 5), Span(12, 14)]) == [Span(0, 9), Span(12, 14)]


def test_within_and_clear_against_every_minute():
    rng = np.random.default_rng(1)
    for _ in range(50):
        begins = rng.integers(0, 40, 4)
        spans = [Span(int(b), int(b + n)) for b, n in zip(begins, rng.integers(1, 12, 4), strict=True)]
        inside = {minute for span in spans for minute in range(span.start, span.end)}
        starts = np.arange(50)
        ends = starts + int(rng.integers(1, 6))
        minutes = [set(range(a, b)) for a, b in zip(starts, ends, strict=True)]
        assert within(spans, starts, ends).tolist() == [each <= inside for each in minutes]
        assert clear_of(spans, starts, ends).tolist() == [not each & inside for each in minutes]
