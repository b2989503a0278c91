"""Days of clock change: Directive 2000/84/EC (last Sundays of March and October, 01:00 UTC) for Lisbon;
15 U.S.C. 260a (second Sunday of March, first Sunday of November, 02:00 local) for New York."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from courses.planning.availability import (
    Hours,
    Span,
    TimeSkipped,
    change_of_clocks,
    common,
    covered,
    days_between,
    instant_of,
    joined,
    spans,
)

LISBON, NEW_YORK = ZoneInfo("Europe/Lisbon"), ZoneInfo("America/New_York")
FORWARD = {LISBON: date(2026, 3, 29), NEW_YORK: date(2026, 3, 8)}
BACK = {LISBON: date(2026, 10, 25), NEW_YORK: date(2026, 11, 1)}
SKIPPED = {LISBON: time(1, 30), NEW_YORK: time(2, 30)}
TWICE = {LISBON: time(1, 30), NEW_YORK: time(1, 30)}
CHANGE = {LISBON: datetime(2026, 3, 29, 1, tzinfo=UTC), NEW_YORK: datetime(2026, 3, 8, 7, tzinfo=UTC)}
ZONES = pytest.mark.parametrize("zone", [LISBON, NEW_YORK], ids=str)


def on(day: date, starts: time, ends: time) -> Hours:
    return Hours(day.weekday(), starts, ends)


@ZONES
def test_a_time_that_the_clocks_skip_is_refused(zone: ZoneInfo):
    with pytest.raises(TimeSkipped, match="put forward"):
        instant_of(FORWARD[zone], SKIPPED[zone], zone)


@ZONES
def test_of_a_time_that_comes_twice_the_first_is_taken(zone: ZoneInfo):
    first = instant_of(BACK[zone], TWICE[zone], zone)
    assert (first + timedelta(hours=1)).astimezone(zone).time() == TWICE[zone]


@ZONES
def test_the_clocks_change_by_an_hour_on_two_days_a_year(zone: ZoneInfo):
    hour = timedelta(hours=1)
    assert (change_of_clocks(FORWARD[zone], zone), change_of_clocks(BACK[zone], zone)) == (hour, -hour)
    year = days_between(date(2026, 1, 1), date(2026, 12, 31))
    assert [day for day in year if change_of_clocks(day, zone)] == [FORWARD[zone], BACK[zone]]


@ZONES
def test_a_night_over_the_change_forward_is_an_hour_shorter(zone: ZoneInfo):
    day = FORWARD[zone]
    (found,) = spans([on(day, time(0), time(6))], [day], zone)
    assert found.ends - found.starts == timedelta(hours=5)


@ZONES
def test_a_night_over_the_change_back_is_an_hour_longer(zone: ZoneInfo):
    day = BACK[zone]
    (found,) = spans([on(day, time(0), time(6))], [day], zone)
    assert found.ends - found.starts == timedelta(hours=7)


@ZONES
def test_a_skipped_start_is_the_instant_of_the_change(zone: ZoneInfo):
    (found,) = spans([on(FORWARD[zone], SKIPPED[zone], time(6))], [FORWARD[zone]], zone)
    assert found.starts == CHANGE[zone]


@ZONES
def test_a_skipped_end_is_the_instant_of_the_change(zone: ZoneInfo):
    (found,) = spans([on(FORWARD[zone], time(0), SKIPPED[zone])], [FORWARD[zone]], zone)
    assert found.ends == CHANGE[zone]


@ZONES
def test_the_same_hours_mean_the_same_wall_clock_all_year(zone: ZoneInfo):
    days = [date(2026, 1, 5), date(2026, 7, 6)]  # both Mondays
    found = spans([Hours(0, time(9), time(12))], days, zone)
    assert [span.starts.astimezone(zone).hour for span in found] == [9, 9]
    assert found[0].starts.hour != found[1].starts.hour


def test_a_day_with_other_hours_keeps_only_those():
    monday, tuesday = date(2026, 6, 1), date(2026, 6, 2)
    weekly = [Hours(0, time(9), time(12)), Hours(1, time(9), time(12))]
    found = spans(
        weekly, [monday, tuesday], ZoneInfo("UTC"), {monday: [], tuesday: [Hours(1, time(15), time(16))]}
    )
    assert [(span.starts.day, span.starts.hour) for span in found] == [(2, 15)]


def test_hours_that_touch_are_one_span():
    day = date(2026, 6, 1)
    found = spans([on(day, time(9), time(12)), on(day, time(12), time(15))], [day], ZoneInfo("UTC"))
    assert [(span.starts.hour, span.ends.hour) for span in found] == [(9, 15)]


def test_days_between_hold_both_ends():
    assert days_between(date(2026, 2, 27), date(2026, 3, 1)) == [
        date(2026, 2, 27),
        date(2026, 2, 28),
        date(2026, 3, 1),
    ]


_minutes = st.lists(st.tuples(st.integers(0, 400), st.integers(1, 60)), max_size=8)


def _made(pairs: list[tuple[int, int]]) -> tuple[Span, ...]:
    start = datetime(2026, 6, 1, tzinfo=UTC)
    return joined(
        Span(start + timedelta(minutes=at), start + timedelta(minutes=at + length)) for at, length in pairs
    )


def _minutes_of(found: tuple[Span, ...]) -> set[datetime]:
    return {
        span.starts + timedelta(minutes=n)
        for span in found
        for n in range(int((span.ends - span.starts).total_seconds() // 60))
    }


@given(_minutes, _minutes)
def test_common_instants_are_those_of_both_minute_by_minute(one, other):
    left, right = _made(one), _made(other)
    assert _minutes_of(common(left, right)) == _minutes_of(left) & _minutes_of(right)


@given(_minutes)
def test_joined_spans_never_meet_and_cover_each_of_theirs(pairs):
    found = _made(pairs)
    assert all(before.ends < after.starts for before, after in pairwise(found))
    assert all(covered(span, found) for pair in pairs for span in _made([pair]))
