from datetime import date, time

import pytest

from academy.errors import NotHere
from courses.models import FreeException, OpeningHours
from courses.selectors.free_times import exceptions_to_come, own_exception, usual_week, whole_hours
from courses.services.free_times import set_usual_week
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, TEN


def open_on(cast: Cast, weekday: int, starts: time, ends: time) -> OpeningHours:
    return OpeningHours.objects.create(academy=cast.academy, weekday=weekday, starts=starts, ends=ends)


def test_a_week_shows_every_hour_of_the_opening(cast: Cast):
    open_on(cast, 0, time(9), time(11))
    open_on(cast, 0, time(14, 30), time(16))
    set_usual_week(student=cast.ada, hours=[(0, 10)], now=MADE_AT)
    (monday,) = usual_week(cast.ada)
    assert (monday.name, monday.free) == ("Monday", 1)
    assert monday.hours == [(9, False), (10, True), (14, False), (15, False)]


def test_hours_outside_the_opening_stay_to_be_seen(cast: Cast):
    set_usual_week(student=cast.ada, hours=[(5, 20)], now=MADE_AT)
    (saturday,) = usual_week(cast.ada)
    assert saturday.hours == [(20, True)]


@pytest.mark.parametrize(
    ("starts", "ends", "hours"),
    [
        (time(9), time(11), {9, 10}),
        (time(9, 30), time(11, 15), {9, 10, 11}),
        (time(22), time(23, 59), {22, 23}),
    ],
)
def test_an_hour_counts_when_it_is_touched(starts: time, ends: time, hours: set[int]):
    row = OpeningHours(weekday=2, starts=starts, ends=ends)
    assert whole_hours(row) == {(2, hour) for hour in hours}


def test_only_days_to_come_are_shown_and_only_her_own(cast: Cast):
    FreeException.objects.create(student=cast.ada, on=date(2026, 3, 1))
    today = FreeException.objects.create(student=cast.ada, on=MADE_AT.date())
    later = FreeException.objects.create(student=cast.ada, on=TEN.date())
    assert exceptions_to_come(cast.ada, MADE_AT) == [today, later]
    assert own_exception(cast.ada, today.pk) == today
    with pytest.raises(NotHere):
        own_exception(cast.bea, today.pk)
