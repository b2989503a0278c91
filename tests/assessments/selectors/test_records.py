"""Everything kept about one set."""

from datetime import timedelta
from typing import Any

import pytest

from academy.errors import NotHere
from assessments.scoring.timing import Event, EventKind
from assessments.selectors.records import pauses, record_of, set_for, sets_of
from assessments.services.marking import correct_marks
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, make_entry, make_graded_set, make_open_set


def test_a_student_sees_her_own_set_and_nobody_elses(bench: Bench, cast: Cast):
    made = make_open_set(bench)
    assert set_for(cast.ada, made.uid) == made
    for stranger in (cast.bea, cast.omar, cast.omar_student):
        with pytest.raises(NotHere):
            set_for(stranger, made.uid)


def test_staff_see_every_set_of_their_academy(bench: Bench, cast: Cast):
    made = make_open_set(bench)
    assert set_for(cast.ines, made.uid) == set_for(cast.owner, made.uid) == made


def test_the_record_tells_clock_splits_and_pauses(bench: Bench):
    """240 minutes of work with one pause of 10 after the first hour, as the factory lays down."""
    grade = make_graded_set(bench)
    record = record_of(grade.practice_set, now=STARTED + timedelta(days=30))
    assert record.clock.worked_s == 240 * 60
    (pause,) = record.pauses
    assert (pause.lasted_s, pause.reason) == (600, "break")
    (split,) = record.splits
    assert (split.name, split.total_s) == ("Right eye, top layer", 210 * 60)


def test_a_record_before_signing_has_no_marks_and_no_faults(bench: Bench):
    record = record_of(make_open_set(bench), now=STARTED)
    assert (record.newest, record.grade, record.faults, record.earlier) == (None, None, None, ())


def test_a_mark_says_how_it_was_found_and_what_a_person_changed(bench: Bench):
    grade = make_graded_set(bench, entry=make_entry(levels={"isolation": 2}))
    newest = record_of(grade.practice_set, now=STARTED).newest
    assert newest is not None
    lines = {line.name: line for line in newest.marks}
    assert lines["Isolation"].remark == "Proposed 4, given 2: seen at the bench"
    assert lines["Isolation"].how.startswith("0 stuck of 40")
    assert lines["Isolation"].is_gate
    assert lines["Product fit"].how == "Judged by a person."
    assert lines["Product fit"].remark == ""
    assert all(line.descriptor for line in lines.values())


def test_a_pause_that_still_lasts_has_no_length():
    began = Event(EventKind.START, STARTED)
    paused = Event(EventKind.PAUSE, STARTED + timedelta(minutes=5), reason="phone")
    (pause,) = pauses([began, paused])
    assert (pause.lasted_s, pause.reason) == (None, "phone")


def test_sets_come_newest_first_with_the_score_that_counts(bench: Bench):
    grade = make_graded_set(bench)
    open_set = make_open_set(bench, at=STARTED + timedelta(days=1))
    rows: list[Any] = list(sets_of(bench.student))
    assert [row.pk for row in rows] == [open_set.pk, grade.practice_set_id]
    assert rows[0].score is None
    assert (rows[1].score, rows[1].gates_passed) == (pytest.approx(grade.score), True)


def test_a_record_costs_the_same_with_more_revisions(bench: Bench, django_assert_num_queries):
    grade = make_graded_set(bench)
    practice_set = set_for(bench.educator, grade.practice_set.uid)
    with django_assert_num_queries(7):
        record_of(practice_set, now=STARTED)
    correct_marks(
        actor=bench.educator,
        uid=practice_set.uid,
        entry=make_entry(levels={"isolation": 1}),
        reason="Looked at again.",
        base_revision=1,
        now=STARTED + timedelta(days=1),
    )
    with django_assert_num_queries(7):
        record = record_of(practice_set, now=STARTED)
    assert [revision.grade.revision for revision in record.revisions] == [2, 1]
