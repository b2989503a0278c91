"""Signed marks become what the skill model is told: counts where they say it all, levels elsewhere."""

from datetime import timedelta

from assessments.models import Criterion, Mark
from assessments.selectors.grades import marks_that_count
from assessments.selectors.skill_records import (
    marks_by_student,
    model_criteria,
    model_skills,
    record_of_marks,
    second_gradings,
)
from courses.models import Skill
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, Outcome, make_entry, make_graded_set
from tests.factories.second_marks import second_result

STUCK = Outcome(faults={index: ["STK"] for index in range(3)})


def grading_of(bench: Bench, nth: int = 0):
    return record_of_marks(marks_that_count(bench.student)).sets[nth].gradings[0]


def test_a_counted_criterion_is_told_as_faults_of_fans_and_a_judged_one_as_a_level(bench: Bench):
    make_graded_set(bench, outcome=STUCK)
    grading = grading_of(bench)
    assert grading.educator == str(bench.educator.pk)
    assert grading.counts["isolation.isolation"] == (3, 40)
    assert "product.product" not in grading.counts and grading.levels["product.product"] == 3
    assert "hygiene.hygiene" not in grading.counts and grading.levels["hygiene.hygiene"] == 4


def test_a_level_given_against_the_count_replaces_it(bench: Bench):
    make_graded_set(bench, outcome=STUCK, entry=make_entry(levels={"isolation": 3}))
    grading = grading_of(bench)
    assert "isolation.isolation" not in grading.counts and grading.levels["isolation.isolation"] == 3


def test_faults_that_force_the_lowest_level_are_not_hidden_behind_a_count(bench: Bench):
    make_graded_set(bench)
    marks = list(marks_that_count(bench.student))
    for mark in marks:
        mark.criterion.rule = {**mark.criterion.rule, "floor_faults": ["TCH"]}
    assert record_of_marks(marks).sets[0].gradings[0].counts == {}


def test_sets_lie_on_the_days_on_which_they_were_finished(bench: Bench):
    make_graded_set(bench)
    make_graded_set(bench, at=STARTED + timedelta(days=3))
    first, second = record_of_marks(marks_that_count(bench.student)).sets
    assert second.day - first.day == 3
    assert first.brief == str(bench.brief.pk)


def test_a_second_result_is_another_grading_of_the_same_set_and_only_when_asked_for(bench: Bench, cast: Cast):
    grade = make_graded_set(bench)
    second_result(grade, cast.owner, {"closure": 2})
    seconds = second_gradings(cast.academy)
    assert set(seconds) == {grade.practice_set_id}
    marks = list(marks_that_count(bench.student))
    (alone,), (both,) = record_of_marks(marks).sets, record_of_marks(marks, seconds).sets
    assert [each.educator for each in alone.gradings] == [str(cast.ines.pk)]
    assert [each.educator for each in both.gradings] == [str(cast.ines.pk), str(cast.owner.pk)]
    assert both.gradings[1].levels["closure.closure"] == 2


def test_each_criterion_is_listed_once_with_the_bands_of_the_last_version_given(bench: Bench):
    grade = make_graded_set(bench)
    rows = [mark.criterion for mark in Mark.objects.filter(grade=grade).select_related("criterion__skill")]
    isolation = next(row for row in rows if row.code == "isolation")
    newer = Criterion(code="isolation", name="Alone", skill=isolation.skill, kind="counted", rule={})
    newer.rule = {**isolation.rule, "at_most": [0, 2, 4, 8]}
    found = {each.code: each for each in model_criteria([*rows, newer])}
    assert len(found) == len(rows)
    scale = found["isolation.isolation"].count
    assert scale is not None and scale.at_most == (0, 2, 4, 8)
    assert found["symmetry.symmetry"].count is None


def test_speed_is_told_apart_from_accuracy(bench: Bench):
    speed = [each.code for each in model_skills(Skill.objects.all()) if each.is_speed]
    assert speed == ["time"]


def test_marks_of_many_students_cost_three_queries(bench: Bench, django_assert_num_queries):
    make_graded_set(bench)
    with django_assert_num_queries(3):
        found = marks_by_student([bench.student.pk, bench.educator.pk])
    assert {key: len(row) for key, row in found.items()} == {bench.student.pk: 14}
