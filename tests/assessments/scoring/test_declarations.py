"""A history told step by step gives what the whole course gives, and what is recorded stays recorded."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.competence_rules import SetResult
from assessments.scoring.declarations import DECLARED, Step, Version, follow_on
from assessments.scoring.lapse import REVIEW, follow
from assessments.scoring.programme_rules import PRESETS, parse_programme

PASS, FAIL = SetResult(failed=False), SetResult(failed=True)
SHORT, LONG = parse_programme(PRESETS["short_course"]), parse_programme(PRESETS["long_course"])
histories = st.lists(st.floats(0, 1), max_size=45).map(
    lambda draws: [SetResult(failed=d < 0.2) for d in draws]
)


def steps_of(standing, kind):
    return tuple(step.place for step in standing.steps if step.kind == kind)


@pytest.mark.parametrize("name", ["short_course", "seven_in_a_row", "test_out"])
@settings(max_examples=40, deadline=None)
@given(history=histories)
def test_one_version_gives_what_the_whole_course_gives(name, history):
    programme = parse_programme(PRESETS[name])
    standing = follow_on({1: Version(programme, history)}, 1, [])
    course = follow(programme.rule, programme.watch, history)
    assert (steps_of(standing, DECLARED), steps_of(standing, REVIEW)) == (
        course.declared_at,
        course.alarmed_at,
    )
    assert standing.decision == course.decision
    assert (standing.status == "competent") == (course.status == "competent")
    assert (standing.status == "review") == (course.status == "review")


@settings(max_examples=40, deadline=None)
@given(history=histories, cut=st.integers(0, 45))
def test_going_on_from_what_is_recorded_gives_the_same_steps(history, cut):
    before = follow_on({1: Version(SHORT, history[:cut])}, 1, [])
    recorded = [replace(step, decision=None) for step in before.steps]
    after = follow_on({1: Version(SHORT, history)}, 1, recorded)
    assert after.kept == len(recorded)
    whole = follow_on({1: Version(SHORT, history)}, 1, [])
    assert [(step.kind, step.place) for step in after.steps] == [
        (step.kind, step.place) for step in whole.steps
    ]


@settings(max_examples=40, deadline=None)
@given(history=histories, preset=st.sampled_from(["long_course", "test_out", "seven_in_a_row"]))
def test_no_rule_change_takes_back_what_is_recorded(history, preset):
    recorded = [replace(step, decision=None) for step in follow_on({1: Version(SHORT, history)}, 1, []).steps]
    versions = {1: Version(SHORT, history), 2: Version(parse_programme(PRESETS[preset]), history)}
    standing = follow_on(versions, 2, recorded)
    assert standing.kept == len(recorded)
    assert list(standing.steps[: standing.kept]) == recorded


def test_a_declaration_is_watched_by_its_own_version_and_the_newest_rule_takes_over_after_a_review():
    """Seven clean sets reach 4 (0.588 a pass, ln 1.8); a watch at 3.5 needs three fails of ln 5 = 1.609."""
    history = [PASS] * 7 + [FAIL] * 3 + [PASS] * 7
    versions = {1: Version(SHORT, history), 2: Version(LONG, history)}
    standing = follow_on(versions, 2, [Step(DECLARED, 7, 1)])
    assert [(step.kind, step.place, step.version) for step in standing.steps] == [
        (DECLARED, 7, 1),
        (REVIEW, 10, 1),
    ]
    assert (standing.status, standing.version, standing.since) == (REVIEW, 2, 10)
    # The long course needs sixteen clean sets (4.02 of 3.77 at ln(0.9 / 0.7) = 0.2513): seven are not enough.
    assert standing.decision.sets_left == 16 - 7


def test_marks_corrected_since_take_the_ground_from_under_a_declaration():
    corrected = [PASS] * 3 + [FAIL] + [PASS] * 3
    recorded = [Step(DECLARED, 7, 1, is_open=True)]
    standing = follow_on({1: Version(SHORT, corrected)}, 1, recorded)
    assert (standing.kept, standing.steps, standing.status) == (0, (), "collecting")
    untouched = follow_on({1: Version(SHORT, corrected)}, 1, [Step(DECLARED, 7, 1)])
    assert (untouched.kept, untouched.status) == (1, "competent")


def test_a_correction_that_still_bears_the_declaration_leaves_it():
    standing = follow_on({1: Version(SHORT, [PASS] * 7)}, 1, [Step(DECLARED, 7, 1, is_open=True)])
    assert (standing.kept, standing.added) == (1, ())


def test_a_review_goes_when_the_corrected_marks_no_longer_ring_its_alarm():
    history = [PASS] * 7 + [FAIL] * 2 + [PASS]
    recorded = [Step(DECLARED, 7, 1), Step(REVIEW, 10, 1, is_open=True)]
    standing = follow_on({1: Version(SHORT, history)}, 1, recorded)
    assert (standing.kept, standing.status) == (1, "competent")


def test_a_rule_without_a_watch_never_sends_to_review():
    history = [PASS] * 7 + [FAIL] * 20
    standing = follow_on({1: Version(replace(SHORT, watch=None), history)}, 1, [])
    assert (standing.status, standing.watch) == ("competent", ())


def test_not_yet_is_told_apart_from_collecting():
    """Wald's test at 10 and 30 %, risks .10 and .05: ln(0.10 / 0.95) = -2.25 is passed by three fails."""
    wald = parse_programme(PRESETS["test_out"])
    assert follow_on({1: Version(wald, [FAIL] * 3)}, 1, []).status == "not_yet"
    assert follow_on({1: Version(wald, [FAIL] * 2)}, 1, []).status == "collecting"
    assert follow_on({1: Version(wald, [])}, 1, []).status == "collecting"
