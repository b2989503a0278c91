"""The invented hand obeys the rubric it is judged by, and the calendar keeps to its word."""

import json
from collections import Counter
from datetime import UTC, datetime, time
from itertools import pairwise
from random import Random

import pytest

from assessments.management.demo import clockwork, hand, story
from assessments.management.demo.calendar import PlannedSet, growth, planned_sets
from assessments.scoring.timing import Event, EventKind, SetState, read_clock

NOW = datetime(2026, 3, 4, 10, 0, tzinfo=UTC)
STARTS = {name: time(9, 30) for name in ("Morning group", "Afternoon group", "Evening group")}
COUNTED = ("isolation", "closure", "wrap", "adhesive", "attachment", "mapping")


@pytest.mark.parametrize("skill", COUNTED)
@pytest.mark.parametrize("level", [1, 2, 3, 4])
def test_the_expected_faults_at_a_level_lie_in_the_rubrics_band_of_that_level(skill: str, level: int):
    (rule,) = (row["rule"] for row in rubric_criteria() if row["code"] == skill)
    limits = [-1, *rule["at_most"]]
    low, high = limits[4 - level], limits[5 - level]
    expected = hand.FAULTS_OF_40[skill][level] * rule["per"] / 40
    assert low < expected <= high + 0.5  # counts are whole: half a fan more still rounds into the band


@pytest.mark.parametrize(
    "curve",
    [*hand.FAULTS_OF_40.values(), hand.BARE_SHARE, hand.DEGREES_OFF, hand.TIME_SHARE, hand.GAP_OFF_MM],
)
def test_more_skill_never_makes_worse_work(curve: hand.Curve):
    values = [hand.value_at(curve, level / 10) for level in range(-5, 50)]
    assert all(later <= earlier for earlier, later in pairwise(values))


def test_a_single_lash_on_one_layer_cannot_be_misshapen_or_bonded_across_layers():
    codes = {"closure": ["OPN", "CNT", "CRS"], "isolation": ["STK", "LYR"], "placement": ["TCH", "GAP"]}
    found = hand.faults_by_skill(codes, filaments=1, layers=1)
    assert found == {"closure": ["CNT"], "isolation": ["STK"], "placement": ["TCH"]}


def test_a_bare_lash_has_no_fault_and_no_measure():
    form = hand.Form(dict.fromkeys((*hand.FAULTS_OF_40, "coverage"), 0.0))
    drawn = hand.Drawn(0, wants_gap=True, wants_direction=True)
    found = [hand.finding(form, drawn, {"isolation": ["STK"]}, Random(seed)) for seed in range(60)]
    bare = [each for each in found if each["finding"] == "bare"]
    assert bare
    assert all(not each["faults"] and "gap_mm" not in each for each in bare)


def test_growth_starts_at_nothing_ends_at_everything_and_slows_down():
    steps = [growth(nth, 9) for nth in range(9)]
    assert (steps[0], steps[-1]) == (0.0, pytest.approx(1.0))
    gains = [later - earlier for earlier, later in pairwise(steps)]
    assert gains == sorted(gains, reverse=True)


def test_the_same_seed_plans_the_same_sets():
    plans = [planned_sets(story.pupils(), STARTS, NOW, Random(7)) for _ in range(2)]
    assert plans[0] == plans[1]


@pytest.mark.parametrize("day", range(1, 8))
def test_whatever_the_weekday_no_student_has_two_sets_a_day_or_one_on_a_past_sunday(day: int):
    now = NOW.replace(day=day)
    plans = planned_sets(story.pupils(), STARTS, now, Random(7))
    graded = [plan for plan in plans if plan.until == "graded"]
    days = Counter((plan.email, plan.opens_at.date()) for plan in graded)
    assert max(days.values()) == 1
    assert all(plan.opens_at.weekday() != 6 for plan in graded if plan.opens_at.date() != now.date())
    assert all(plan.opens_at < now for plan in plans)


def test_nth_sets_of_a_student_are_numbered_in_the_order_of_their_days():
    plans = [plan for plan in planned_sets(story.pupils(), STARTS, NOW, Random(7)) if plan.until == "graded"]
    for email in {plan.email for plan in plans}:
        numbers = [plan.nth for plan in plans if plan.email == email]
        assert numbers == list(range(len(numbers)))


def test_the_recorded_moments_give_back_exactly_the_time_worked():
    rng = Random(3)
    breaks = clockwork.pauses(9000, ["Glass of water"], rng)
    moments = clockwork.moments(NOW, 9000, ("top", "bottom"), breaks, rng)
    clock = read_clock([Event(moment.kind, moment.at) for moment in moments], now=moments[-1].at)
    assert breaks
    assert clock.state == SetState.FINISHED
    assert clock.worked_s == pytest.approx(9000)
    assert clock.paused_s == sum(each.lasts.total_seconds() for each in breaks)
    assert sum(moment.kind == EventKind.SPLIT for moment in moments) == 4


def test_a_skill_without_a_story_of_its_own_has_the_students_level():
    plan = PlannedSet("a@marramlane.example", 0, "Open volume", NOW, 2.5, {"time": 1.0})
    assert (plan.latent("time"), plan.latent("wrap")) == (1.0, 2.5)


def rubric_criteria():
    path = story.FOLDER.parent / "catalogue" / "rubric.json"
    return json.loads(path.read_text(encoding="utf-8"))["criteria"]
