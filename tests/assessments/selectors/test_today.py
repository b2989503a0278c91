"""The day at one academy."""

from datetime import timedelta

from assessments.selectors.today import today_in
from tests.factories.academy import JOINED, Cast, make_member
from tests.factories.assessments import (
    STARTED,
    Bench,
    make_finished_set,
    make_graded_set,
    make_inspected_set,
    make_started_set,
)
from tests.factories.courses import make_head

AN_HOUR = timedelta(hours=1)


def at_another_head(bench: Bench, student) -> Bench:
    return Bench(student, bench.educator, bench.brief, make_head(bench.academy, f"Head of {student.name}"))


def test_sets_stand_under_the_step_they_wait_for(bench: Bench, cast: Cast):
    working = make_started_set(bench)
    finished = make_finished_set(at_another_head(bench, cast.bea))
    inspected = make_inspected_set(at_another_head(bench, make_member(cast.academy, "Cleo")))
    graded = make_graded_set(at_another_head(bench, make_member(cast.academy, "Dina")))
    board = today_in(cast.academy, now=STARTED + AN_HOUR)
    assert [item.practice_set.pk for item in board.under_way] == [working.pk]
    assert [row.pk for row in board.to_inspect] == [finished.pk]
    assert [row.pk for row in board.to_mark] == [inspected.pk]
    assert list(board.signed) == [graded]


def test_the_clock_of_a_set_under_way_runs_from_its_start(bench: Bench, cast: Cast):
    make_started_set(bench)
    (item,) = today_in(cast.academy, now=STARTED + AN_HOUR).under_way
    assert (item.clock.started_at, item.clock.worked_s) == (STARTED, 3600)


def test_a_head_is_in_use_until_its_set_is_inspected(bench: Bench, cast: Cast):
    make_finished_set(bench)
    make_head(cast.academy, "Spare")
    board = today_in(cast.academy, now=STARTED + AN_HOUR)
    assert {use.head.name: use.practice_set is not None for use in board.heads} == {
        "Head 1": True,
        "Spare": False,
    }
    assert board.heads_free == 1


def test_students_are_missed_after_fourteen_days_from_their_last_set_or_from_joining(
    bench: Bench, cast: Cast
):
    make_started_set(bench)
    make_member(cast.academy, "Joined lately", joined_at=STARTED + timedelta(days=10))
    board = today_in(cast.academy, now=STARTED + timedelta(days=13))
    assert [(item.student, item.idle_days) for item in board.unseen] == [(cast.bea, None)]
    board = today_in(cast.academy, now=STARTED + timedelta(days=15))
    assert [(item.student, item.idle_days) for item in board.unseen] == [(cast.bea, None), (cast.ada, 15)]


def test_a_long_list_of_missed_students_is_cut_and_counted(cast: Cast):
    for number in range(10):
        make_member(cast.academy, f"Student {number}")
    board = today_in(cast.academy, now=JOINED + timedelta(days=20))
    assert (len(board.unseen), board.unseen_count, board.unseen_more) == (8, 12, 4)


def test_another_academys_day_is_its_own(bench: Bench, cast: Cast):
    make_started_set(bench)
    board = today_in(cast.other_academy, now=STARTED)
    assert (board.under_way, board.heads, board.signed) == ((), (), ())


def test_the_day_costs_nine_queries_however_much_goes_on(bench: Bench, cast: Cast, django_assert_num_queries):
    make_graded_set(bench)
    make_started_set(bench, at=STARTED + 5 * AN_HOUR)
    with django_assert_num_queries(9):
        today_in(cast.academy, now=STARTED + 6 * AN_HOUR)
    make_started_set(at_another_head(bench, cast.bea))
    make_graded_set(at_another_head(bench, make_member(cast.academy, "Dina")))
    with django_assert_num_queries(9):
        today_in(cast.academy, now=STARTED + 6 * AN_HOUR)
