"""From marks to where a student stands."""

from datetime import timedelta

import pytest

from assessments.models import Criterion, Mark
from assessments.selectors.grades import marks_that_count
from assessments.selectors.skill import TARGET_LEVEL, histories, stand_of
from courses.models import Skill
from tests.factories.assessments import STARTED, Bench, Outcome, make_graded_set

TWO_DAYS = timedelta(days=2)
STUCK = Outcome(faults={index: ["STK"] for index in range(7)})  # 7 of 40 stuck: band 0


def test_nobody_stands_anywhere_before_the_first_graded_set(bench: Bench):
    stand = stand_of(bench.student, now=STARTED)
    assert (stand.lines, stand.sets) == ((), 0)
    assert set(stand.unmarked) == set(Skill.objects.values_list("name", flat=True))


def test_a_gate_skill_below_target_leads_whatever_the_others_are(bench: Bench):
    make_graded_set(bench, outcome=STUCK)
    lines = stand_of(bench.student, now=STARTED + TWO_DAYS).lines
    assert lines[0].need.skill == "isolation"
    assert lines[0].need.is_gate and lines[0].is_below


def test_skills_are_listed_weakest_first_after_the_gates_below_target(bench: Bench):
    make_graded_set(bench, outcome=STUCK)
    gaps = [line.need.gap for line in stand_of(bench.student, now=STARTED + TWO_DAYS).lines]
    ordinary = gaps[1:]
    assert ordinary == sorted(ordinary, key=lambda gap: -(gap or 0))


def test_the_trend_has_one_point_for_each_set_named_after_it(bench: Bench):
    make_graded_set(bench)
    make_graded_set(bench, at=STARTED + TWO_DAYS, outcome=STUCK)
    stand = stand_of(bench.student, now=STARTED + 2 * TWO_DAYS)
    isolation = next(line for line in stand.lines if line.need.skill == "isolation")
    assert [point.label for point in isolation.trend] == ["set 1", "set 2"]
    assert isolation.trend[1].level < isolation.trend[0].level
    assert stand.sets == 2


def test_the_trend_ends_at_the_estimate_that_is_shown(bench: Bench):
    """Idle days widen the range but do not move the level (assessments.skill.recency)."""
    make_graded_set(bench)
    line = stand_of(bench.student, now=STARTED + timedelta(days=90)).lines[0]
    assert line.trend[-1].level == pytest.approx(line.need.estimate.level)
    assert line.need.estimate.low is not None and line.need.estimate.low < line.trend[-1].low


def test_skills_no_criterion_speaks_of_are_named_as_not_marked(bench: Bench):
    Skill.objects.create(code="brow-work", name="Brow work", meaning="Not on this rubric.")
    make_graded_set(bench)
    assert stand_of(bench.student, now=STARTED + TWO_DAYS).unmarked == ("Brow work",)


def test_a_level_within_half_a_tenth_of_the_target_counts_as_reached(bench: Bench):
    make_graded_set(bench)
    lines = stand_of(bench.student, now=STARTED + TWO_DAYS).lines
    assert all(line.is_below == (round(line.need.estimate.level or 0, 1) < TARGET_LEVEL) for line in lines)


def test_a_criterion_of_weight_zero_still_speaks_for_its_skill(bench: Bench):
    grade = make_graded_set(bench)
    mark = Mark.objects.select_related("criterion").get(grade=grade, criterion__code="time")
    rows = Criterion._base_manager.filter(pk=mark.criterion_id)
    rows.update(weight=0)
    assert len(histories(marks_that_count(bench.student))["time"].observations) == 1
    assert stand_of(bench.student, now=STARTED + TWO_DAYS).sets == 1


def test_where_she_stands_costs_two_queries_however_many_sets(bench: Bench, django_assert_num_queries):
    make_graded_set(bench)
    with django_assert_num_queries(2):
        stand_of(bench.student, now=STARTED + TWO_DAYS)
    make_graded_set(bench, at=STARTED + TWO_DAYS)
    with django_assert_num_queries(2):
        stand_of(bench.student, now=STARTED + 2 * TWO_DAYS)
