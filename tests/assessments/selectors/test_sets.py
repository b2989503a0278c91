"""Questions about practice sets: always bound to an academy, and cheap whatever the number of rows."""

from datetime import timedelta
from uuid import uuid4

import pytest

from academy.errors import NotHere
from assessments.selectors import sets
from courses.services.briefs import revise_brief
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench
from tests.factories.bench import (
    apply,
    event,
    finished_set,
    graded_set,
    happens,
    inspected_set,
    make_bench,
    open_ready_set,
    working_set,
)
from tests.factories.courses import brief_content
from tests.factories.second_marks import give_second_mark, inspect_second

HOUR = timedelta(hours=1)


def test_a_set_of_another_academy_is_not_here(bench: Bench, cast: Cast):
    made = open_ready_set(bench)
    assert sets.practice_set(cast.academy, made.uid) == made
    for find in (sets.practice_set, sets.locked_set):
        with pytest.raises(NotHere):
            find(cast.other_academy, made.uid)
        with pytest.raises(NotHere):
            find(cast.academy, uuid4())
    assert not sets.practice_sets(cast.other_academy).exists()


def test_a_set_brings_its_student_brief_head_and_rubric_in_one_query(
    bench: Bench, cast: Cast, django_assert_num_queries
):
    uid = open_ready_set(bench).uid
    with django_assert_num_queries(1):
        found = sets.practice_set(cast.academy, uid)
        assert (found.student.name, found.head.name) == ("Ada Marsh", "Head 1")
        assert (found.brief.brief.name, found.rubric.rubric.name) == ("Soft volume", "Starter rubric")


def test_a_set_occupies_its_student_until_finished_and_its_head_until_inspected(bench: Bench):
    made = open_ready_set(bench)
    assert sets.open_set_of(bench.student) == sets.set_on_head(bench.head) == made
    happens(bench, made, [event("start", STARTED), event("finish", STARTED + HOUR)], now=STARTED + HOUR)
    assert sets.open_set_of(bench.student) is None
    assert sets.set_on_head(bench.head) == made


def test_an_inspected_set_frees_the_head(bench: Bench, cast: Cast):
    inspected_set(bench)
    assert sets.set_on_head(bench.head) is None
    assert sets.heads_in_use(cast.academy) == {}


def test_a_set_that_waits_for_a_second_look_stays_on_its_head_until_the_look_is_closed(
    bench: Bench, cast: Cast
):
    second = give_second_mark(graded_set(bench), cast.second)
    assert sets.set_on_head(bench.head) == sets.heads_in_use(cast.academy)[bench.head.pk]
    inspect_second(second)
    assert sets.set_on_head(bench.head) is None
    assert sets.heads_in_use(cast.academy) == {}


def test_an_abandoned_set_frees_student_and_head_at_once(bench: Bench):
    made = working_set(bench)
    happens(bench, made, [event("abandon", STARTED, reason="strip tore")], now=STARTED)
    assert sets.open_set_of(bench.student) is sets.set_on_head(bench.head) is None


def test_heads_in_use_names_the_set_on_each_head_in_two_queries(
    bench: Bench, cast: Cast, django_assert_num_queries
):
    first = finished_set(bench)
    other = make_bench(cast, cast.bea, head="Head 2")
    second = open_ready_set(other)
    with django_assert_num_queries(2):
        found = sets.heads_in_use(cast.academy)
        assert [found[bench.head.pk].student.name, found[other.head.pk].student.name] == [
            "Ada Marsh",
            "Bea Holm",
        ]
    assert found == {bench.head.pk: first, other.head.pk: second}


def test_abandoned_sets_keep_their_number_but_do_not_count_on_the_brief(bench: Bench):
    assert sets.newest_number(bench.student) == 0
    for _ in range(2):
        made = working_set(bench)
        happens(bench, made, [event("abandon", STARTED, reason="fire drill")], now=STARTED)
    open_ready_set(bench)
    assert sets.newest_number(bench.student) == 3
    assert sets.sets_on_brief(bench.student, bench.brief.brief) == 1


def test_the_last_setup_is_the_newest_of_the_day_and_of_this_academy(bench: Bench, cast: Cast):
    assert sets.last_setup(cast.academy, since=STARTED) is None
    open_ready_set(bench, at=STARTED - timedelta(days=1))
    assert sets.last_setup(cast.academy, since=STARTED) is None
    newest = open_ready_set(make_bench(cast, cast.bea, head="Head 2"), at=STARTED + HOUR)
    assert sets.last_setup(cast.academy, since=STARTED) == newest
    assert sets.last_setup(cast.other_academy, since=STARTED) is None


def test_students_for_the_bench_carry_the_brief_of_their_newest_set(
    bench: Bench, cast: Cast, django_assert_num_queries
):
    finished_set(bench)
    newer = make_bench(cast, head="Head 2")
    open_ready_set(newer, at=STARTED + 6 * HOUR)
    with django_assert_num_queries(1):
        found = {row.name: vars(row)["last_brief_id"] for row in sets.students_for_bench(cast.academy)}
    assert found == {"Ada Marsh": newer.brief.brief_id, "Bea Holm": None}


def test_a_student_who_has_left_is_not_offered_at_the_bench(bench: Bench, cast: Cast):
    cast.ada.left_at = STARTED
    cast.ada.save(update_fields=["left_at"])
    assert [student.name for student in sets.students_for_bench(cast.academy)] == ["Bea Holm"]


def test_the_clock_counts_work_and_pauses_apart(bench: Bench, django_assert_num_queries):
    made = working_set(bench)
    minutes = [STARTED + timedelta(minutes=number) for number in (0, 30, 45, 75)]
    happens(
        bench,
        made,
        [
            event("pause", minutes[1], reason="break"),
            event("resume", minutes[2]),
            event("split", minutes[3], eye="right", layer="top"),
        ],
        now=minutes[3],
    )
    with django_assert_num_queries(1):
        clock = sets.clock_of(made, now=minutes[3] + timedelta(minutes=5))
    # 30 min of work, 15 of pause, 30 and 5 of work: added by hand.
    assert (clock.worked_s, clock.paused_s) == (65 * 60, 15 * 60)
    assert [(split.eye, split.layer, split.total_s) for split in clock.splits] == [("right", "top", 60 * 60)]


def test_findings_do_not_touch_the_clock(bench: Bench):
    made = finished_set(bench)
    before = sets.clock_of(made, now=STARTED + 9 * HOUR)
    looked = event("position", STARTED + 8 * HOUR, index=0, finding="clean")
    apply(bench, made, [looked], now=STARTED + 8 * HOUR)
    assert sets.clock_of(made, now=STARTED + 9 * HOUR) == before


def test_a_set_on_an_earlier_wording_counts_as_the_same_brief_and_keeps_its_wording(bench: Bench):
    made = inspected_set(bench)
    content = brief_content(name=bench.brief.brief.name, targets=((1, 300), (2, 200)))
    newer = revise_brief(brief=bench.brief.brief, content=content, actor=bench.educator, now=STARTED)
    second = open_ready_set(bench, at=STARTED + 6 * HOUR)
    assert sets.sets_on_brief(bench.student, bench.brief.brief) == 2
    assert (made.brief, second.brief) == (bench.brief, newer)
    assert (made.target_s, second.target_s) == (300 * 60, 200 * 60)
