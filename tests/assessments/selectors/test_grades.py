"""Which marks count, and the one thing they leave to practise."""

from datetime import date, timedelta

from assessments.models import Grade
from assessments.selectors.faults import fault_map
from assessments.selectors.grades import (
    gates_of,
    grade_of,
    local_day,
    marks_that_count,
    newest_grade_of,
    newest_grades,
    next_practice,
    revisions,
)
from assessments.services.marking import correct_marks
from tests.factories.academy import Cast
from tests.factories.assessments import (
    STARTED,
    Bench,
    Outcome,
    make_entry,
    make_graded_set,
    make_inspected_set,
)

A_DAY = timedelta(days=1)


def correct(bench: Bench, grade: Grade, **levels: int) -> Grade:
    return correct_marks(
        actor=bench.educator,
        uid=grade.practice_set.uid,
        entry=make_entry(levels=levels),
        reason="Looked at again.",
        base_revision=grade.revision,
        now=STARTED + A_DAY,
    )


def practice(bench: Bench, grade: Grade, today: date):
    return next_practice(grade, fault_map(grade.inspection, bench.brief), today=today)


def test_only_the_newest_revision_of_each_set_counts(bench: Bench):
    first = make_graded_set(bench)
    second = correct(bench, first, isolation=1)
    later = make_graded_set(bench, at=STARTED + 2 * A_DAY)
    assert set(newest_grades(bench.academy)) == {second, later}
    assert {mark.grade_id for mark in marks_that_count(bench.student)} == {second.pk, later.pk}


def test_a_later_correction_of_an_old_set_does_not_become_the_newest_marks(bench: Bench):
    old = make_graded_set(bench)
    new = make_graded_set(bench, at=STARTED + 0.5 * A_DAY)
    correct(bench, old, isolation=1)
    assert newest_grade_of(bench.student) == new


def test_a_set_without_signed_marks_has_no_grade(bench: Bench):
    assert grade_of(make_inspected_set(bench)) is None
    assert newest_grade_of(bench.student) is None


def test_another_academy_sees_none_of_these_marks(bench: Bench, cast: Cast):
    make_graded_set(bench)
    assert not newest_grades(cast.other_academy).exists()


def test_every_revision_stays_readable_newest_first(bench: Bench):
    first = make_graded_set(bench)
    second = correct(bench, first, isolation=1)
    assert revisions(first.practice_set) == [second, first]
    levels = [
        {mark.criterion.code: mark.level for mark in grade.marks.all()}["isolation"]
        for grade in revisions(first.practice_set)
    ]
    assert levels == [1, 4]


def test_gates_say_the_level_given_and_the_one_needed(bench: Bench):
    grade = correct(bench, make_graded_set(bench), isolation=1)
    gates = {gate.name: gate for gate in gates_of(grade)}
    assert (gates["Isolation"].passed, gates["Isolation"].detail) == (False, "level 1, needs 2")
    assert gates["Lid gap"].passed


def test_next_practice_is_the_drill_of_the_newest_marks_with_the_faults_it_answers(bench: Bench):
    grade = make_graded_set(bench, outcome=Outcome(faults={0: ["STK"], 1: ["STK"], 2: ["CLF"]}))
    found = practice(bench, grade, STARTED.date())
    assert found is not None
    assert (found.drill.code, found.count) == ("hold-and-check", 20)
    assert [(seen.rate.code, seen.rate.faults, seen.rate.inspected) for seen in found.faults] == [
        ("STK", 2, 40)
    ]
    assert found.faults[0].meaning


def test_next_practice_counts_down_to_its_date_and_beyond(bench: Bench):
    """An academy gives 7 days by default; the day is counted where the academy is."""
    grade = make_graded_set(bench)
    due = STARTED.date() + timedelta(days=7)
    on_time, late = practice(bench, grade, due - A_DAY), practice(bench, grade, due + 3 * A_DAY)
    assert on_time is not None and late is not None
    assert (on_time.due_on, on_time.days_left, on_time.is_overdue) == (due, 1, False)
    assert (late.days_left, late.is_overdue, late.days_late) == (-3, True, 3)


def test_without_a_drill_there_is_no_next_practice(bench: Bench):
    grade = make_graded_set(bench, entry=make_entry(drill=""))
    assert practice(bench, grade, STARTED.date()) is None


def test_today_is_the_academys_day_not_utc(bench: Bench):
    """22:30 UTC on 2 February is 07:30 on 3 February in Tokyo, UTC+9 all year (IANA tz database)."""
    bench.academy.time_zone = "Asia/Tokyo"
    late = STARTED.replace(hour=22, minute=30)
    assert local_day(bench.academy, late) == date(2026, 2, 3)
