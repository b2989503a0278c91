from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.scoring.retests import Retest, next_retest

FIRST = date(2026, 1, 5)
WAITS = (7, 28, 90, 180)


def on(days, succeeded=True):
    return FIRST + timedelta(days=days), succeeded


def test_new_work_is_retested_at_7_and_28_days_then_90_and_180():
    """The spacing is our default. Behind it: retraining at 1 and 3 months kept 95 % against 90 % without
    (J. Am. Coll. Surg. 2006, n = 18); mastery was held by 92, 71 and 56 % at 2, 4 and 6 months (resuscitation
    trial 2015, n = 42)."""
    results, due = [on(0)], []
    while (retest := next_retest(results, WAITS)) is not None:
        due.append((retest.due_on - FIRST).days)
        results.append((retest.due_on, True))
    assert due == [7, 28, 90, 180]


def test_nothing_is_retested_before_the_first_success():
    assert next_retest([], WAITS) is None
    assert next_retest([on(0, False), on(3, False)], WAITS) is None


def test_a_failure_ends_the_ladder_and_the_next_success_begins_it_again():
    assert next_retest([on(0), on(7), on(9, False)], WAITS) is None
    assert next_retest([on(0), on(7), on(9, False), on(12)], WAITS) == Retest(FIRST + timedelta(days=12), 7)


def test_practice_between_retests_does_not_pass_them():
    assert next_retest([on(0), on(2), on(4)], WAITS) == Retest(FIRST, 7)


@pytest.mark.parametrize(("day", "left"), [(20, 28), (21, 90), (40, 90)])
def test_a_set_within_a_week_of_the_date_stands_for_the_retest(day, left):
    assert next_retest([on(0), on(7), on(day)], WAITS) == Retest(FIRST, left)


def test_one_late_set_passes_every_retest_that_was_due():
    assert next_retest([on(0), on(100)], WAITS) == Retest(FIRST, 180)


@given(st.lists(st.tuples(st.integers(0, 400), st.booleans()), max_size=12))
def test_the_next_retest_is_never_one_that_the_last_set_could_stand_for(rows):
    results = [on(days, ok) for days, ok in sorted(rows)]
    retest = next_retest(results, WAITS)
    if retest is not None:
        assert results[-1][1]
        assert results[-1][0] < retest.opens_on <= retest.due_on
