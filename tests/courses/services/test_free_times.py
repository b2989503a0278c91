from datetime import date, time, timedelta

import pytest

from academy.models import AuditEntry
from courses.models import FreeException, FreeHours
from courses.services.free_times import (
    DayIsOver,
    EndsBeforeItStarts,
    drop_exception,
    set_exception,
    set_usual_week,
)
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT

NOW = MADE_AT
TODAY = MADE_AT.date()


def test_hours_in_a_row_become_one_span_each_day(cast: Cast):
    hours = [(0, 9), (0, 10), (0, 14), (1, 11), (0, 10)]
    set_usual_week(student=cast.ada, hours=hours, now=NOW)
    assert list(FreeHours.objects.values_list("weekday", "starts", "ends")) == [
        (0, time(9), time(11)),
        (0, time(14), time(15)),
        (1, time(11), time(12)),
    ]


def test_the_last_hour_of_a_day_ends_within_it_and_joins_nothing_of_the_next(cast: Cast):
    set_usual_week(student=cast.ada, hours=[(0, 22), (0, 23), (1, 0)], now=NOW)
    assert list(FreeHours.objects.values_list("weekday", "starts", "ends")) == [
        (0, time(22), time(23, 59)),
        (1, time(0), time(1)),
    ]


def test_a_new_week_replaces_the_old_one_and_nobody_elses(cast: Cast):
    set_usual_week(student=cast.bea, hours=[(4, 9)], now=NOW)
    set_usual_week(student=cast.ada, hours=[(0, 9)], now=NOW)
    set_usual_week(student=cast.ada, hours=[], now=NOW)
    assert [row.student for row in FreeHours.objects.all()] == [cast.bea]
    assert AuditEntry.objects.filter(action="set_usual_week").count() == 3


def test_a_day_differs_once_and_the_newer_word_holds(cast: Cast):
    day = TODAY + timedelta(days=3)
    set_exception(student=cast.ada, on=day, starts=None, ends=None, now=NOW)
    set_exception(student=cast.ada, on=day, starts=time(9), ends=time(12), now=NOW)
    row = FreeException.objects.get()
    assert (row.on, row.starts, row.ends) == (day, time(9), time(12))
    drop_exception(exception=row, actor=cast.ada, now=NOW)
    assert not FreeException.objects.exists()


@pytest.mark.parametrize(
    ("on", "starts", "ends", "refusal"),
    [
        (TODAY - timedelta(days=1), None, None, DayIsOver),
        (date(2026, 3, 9), time(12), time(9), EndsBeforeItStarts),
        (date(2026, 3, 9), time(9), time(9), EndsBeforeItStarts),
        (date(2026, 3, 9), time(9), None, EndsBeforeItStarts),
        (date(2026, 3, 9), None, time(9), EndsBeforeItStarts),
    ],
)
def test_a_day_that_cannot_be_is_refused(cast: Cast, on, starts, ends, refusal):
    with pytest.raises(refusal):
        set_exception(student=cast.ada, on=on, starts=starts, ends=ends, now=NOW)
    assert not FreeException.objects.exists()
