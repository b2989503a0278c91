"""From marks to where a student stands."""

from datetime import timedelta

import pytest

from assessments.selectors.skill import TARGET_LEVEL, stand_of
from courses.models import Skill
from tests.factories.assessments import STARTED, Bench, Outcome, make_graded_set

TWO_DAYS = timedelta(days=2)
STUCK = Outcome(faults={index: ["STK"] for index in range(7)})  # 7 of 40 stuck: band 0


def test_nobody_stands_anywhere_before_the_first_graded_set(bench: Bench):
    stand = stand_of(bench.student, now=STARTED)
    assert (stand.lines, stand.sets) == ((), 0)
    assert set(stand.unmarked) == set(Skill.objects.values_list("name", flat=True))


def test_a_gate_skill_below_target_leads_whatever_the_others_are(bench: Bench):
    for number in range(3):
        make_graded_set(bench, at=STARTED + number * TWO_DAYS, outcome=STUCK)
    lines = stand_of(bench.student, now=STARTED + 3 * TWO_DAYS).lines
    assert lines[0].estimate.skill == "isolation"
    assert lines[0].is_gate and lines[0].is_below


def test_skills_are_listed_weakest_first_after_the_gates_below_target(bench: Bench):
    make_graded_set(bench, outcome=STUCK)
    lines = stand_of(bench.student, now=STARTED + TWO_DAYS).lines
    ranked = [(not (line.is_gate and line.weak.gap > 0), round(-line.weak.gap, 9)) for line in lines]
    assert len(ranked) == 14 and ranked == sorted(ranked)


def test_the_trend_has_one_point_for_each_set_named_after_it(bench: Bench):
    make_graded_set(bench)
    make_graded_set(bench, at=STARTED + TWO_DAYS, outcome=STUCK)
    stand = stand_of(bench.student, now=STARTED + 2 * TWO_DAYS)
    isolation = next(line for line in stand.lines if line.estimate.skill == "isolation")
    assert [point.label for point in isolation.trend] == ["set 1", "set 2"]
    closure = next(line for line in stand.lines if line.estimate.skill == "closure")
    assert isolation.trend[1].level < closure.trend[1].level
    assert stand.sets == 2


def test_the_trend_ends_where_the_last_set_left_it_and_a_guide_leads_to_today(bench: Bench):
    """Gains fade and ranges widen without practice (Tatel and Ackerman 2025, see skill.parameters)."""
    make_graded_set(bench)
    make_graded_set(bench, at=STARTED + TWO_DAYS)
    line = stand_of(bench.student, now=STARTED + timedelta(days=180)).lines[0]
    assert line.today is not None and line.estimate.level == line.today.level
    assert line.today.level < line.trend[-1].level
    assert line.today.high - line.today.low > line.trend[-1].high - line.trend[-1].low


def test_on_the_day_of_the_set_there_is_no_guide(bench: Bench):
    make_graded_set(bench)
    line = stand_of(bench.student, now=STARTED + timedelta(hours=6)).lines[0]
    assert line.today is None and line.trend[-1].level == pytest.approx(line.estimate.level, abs=1e-3)


def test_a_skill_far_below_all_others_is_called_the_weakest_and_told_its_fault_and_drill(bench: Bench):
    for number in range(4):
        make_graded_set(bench, at=STARTED + number * TWO_DAYS, outcome=STUCK)
    stand = stand_of(bench.student, now=STARTED + 5 * TWO_DAYS)
    line = stand.lines[0]
    assert line.is_weakest and stand.verdict.startswith("Isolation is the weakest skill")
    assert line.driver is not None
    assert (line.driver.rate.code, line.driver.rate.faults, line.driver.rate.inspected) == ("STK", 21, 120)
    assert line.driver.drill.code == line.driver.rate.drill


def test_when_skills_are_too_close_none_is_called_the_weakest(bench: Bench):
    make_graded_set(bench)
    stand = stand_of(bench.student, now=STARTED + TWO_DAYS)
    assert not any(line.is_weakest for line in stand.lines)
    assert stand.verdict.startswith("No skill can be called the weakest")


def test_skills_no_criterion_speaks_of_are_named_as_not_marked(bench: Bench):
    Skill.objects.create(code="brow-work", name="Brow work", meaning="Not on this rubric.")
    make_graded_set(bench)
    assert stand_of(bench.student, now=STARTED + TWO_DAYS).unmarked == ("Brow work",)


def test_a_level_within_half_a_tenth_of_the_target_counts_as_reached(bench: Bench):
    make_graded_set(bench)
    lines = stand_of(bench.student, now=STARTED + TWO_DAYS).lines
    assert all(line.is_below == (round(line.estimate.level or 0, 1) < TARGET_LEVEL) for line in lines)


def test_where_she_stands_costs_six_queries_however_many_sets(bench: Bench, django_assert_num_queries):
    make_graded_set(bench)
    with django_assert_num_queries(6):
        stand_of(bench.student, now=STARTED + TWO_DAYS)
    make_graded_set(bench, at=STARTED + TWO_DAYS)
    with django_assert_num_queries(6):
        stand_of(bench.student, now=STARTED + 2 * TWO_DAYS)
