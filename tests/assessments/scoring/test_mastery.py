"""Mastery conditions, one at a time; the two limits are exact binomial ones."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.mastery import MasteryConditions, MasterySet, check_mastery

ASKED = MasteryConditions()


def _set(day, **changes):
    good = MasterySet(
        day=date(2026, 3, day),
        gates_passed=True,
        levels={"isolation": 3, "placement": 4},
        faults=0,
        inspected=40,
        educator=1,
    )
    return replace(good, **changes)


GOOD = [_set(2), _set(4, faults=1), _set(6, blind_by=frozenset({2}))]


def _unmet(history, asked=ASKED):
    return [line.code for line in check_mastery(history, asked).lines if not line.met]


def _words(history, code):
    return next(line.words for line in check_mastery(history, ASKED).lines if line.code == code)


def test_three_good_sets_on_three_days_meet_every_condition():
    found = check_mastery(GOOD, ASKED)
    assert found.met
    assert found.words == "All mastery conditions met on the last 3 sets."
    assert {line.code for line in found.lines} == {"sets", "days", "gates", "levels", "faults", "blind"}


@pytest.mark.parametrize(("faults", "limit"), [(0, "2.47 %"), (1, "3.89 %")])
def test_pooled_faults_are_shown_with_their_upper_limit(faults, limit):
    # Exact binomial, one-sided 95 %: 1 - .05^(1/120) = 2.47 %; at 3.89 % the chance of 0 or 1 in 120 is 5 %.
    history = [_set(2), _set(4, faults=faults), _set(6)]
    assert f"The true rate is at most {limit} (one-sided 95 % limit)." in _words(history, "faults")
    assert "faults" not in _unmet(history)


def test_two_faults_in_120_are_too_many_and_two_in_240_are_not():
    assert "faults" in _unmet([_set(2, faults=1), _set(4, faults=1), _set(6)])
    assert "faults" not in _unmet([_set(day, faults=min(day - 2, 1), inspected=80) for day in (2, 3, 4)])


def test_too_few_fans_cannot_show_mastery():
    assert "faults" in _unmet([_set(2, inspected=39), _set(4), _set(6)])
    assert _words([_set(2, inspected=0)], "faults") == "No fans inspected yet; 120 asked for."


def test_only_the_last_three_sets_are_read():
    assert _unmet([_set(1, gates_passed=False, faults=9), *GOOD]) == []


def test_a_failed_gate_resets_the_streak():
    history = [_set(1), _set(2, gates_passed=False), _set(4), _set(6, blind_by=frozenset({2}))]
    assert _unmet(history) == ["gates"]
    assert _words(history, "gates") == "On 2 March 2026 a gate failed; 2 of 3 passed since."


def test_an_unmarked_gate_is_not_a_passed_one():
    history = [*GOOD[:2], replace(GOOD[2], gates_passed=None)]
    assert _unmet(history) == ["gates"]
    assert "a gate is not marked" in _words(history, "gates")


def test_two_sets_on_one_day_count_as_one_day():
    history = [_set(2), _set(6), _set(6, blind_by=frozenset({2}))]
    assert _unmet(history) == ["days"]
    assert _words(history, "days") == "On 2 days; 3 asked for."


@pytest.mark.parametrize(
    ("level", "words"),
    [(2, "on 4 March 2026 isolation 2"), (None, "on 4 March 2026 isolation without a mark")],
)
def test_one_low_or_missing_mark_is_named(level, words):
    history = [_set(2), _set(4, levels={"isolation": level, "placement": 4}), GOOD[2]]
    assert _unmet(history) == ["levels"]
    assert words in _words(history, "levels")


def test_a_set_without_any_marks_is_below_level():
    assert "levels" in _unmet([_set(2, levels={}), *GOOD[1:]])


def test_a_blind_mark_must_come_from_another_educator():
    assert _unmet([*GOOD[:2], replace(GOOD[2], blind_by=frozenset({1}))]) == ["blind"]
    assert _unmet([*GOOD[:2], replace(GOOD[2], blind_by=frozenset())]) == ["blind"]


def test_no_sets_meet_nothing():
    found = check_mastery([], ASKED)
    assert not any(line.met for line in found.lines)
    assert found.words == "6 of 6 mastery conditions not met yet."


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 4), st.booleans(), st.integers(0, 3)), min_size=3, max_size=5))
def test_better_work_never_loses_a_condition(sets):
    worse = [
        _set(day, levels={"isolation": level}, gates_passed=passed, faults=faults)
        for day, (level, passed, faults) in enumerate(sets, start=1)
    ]
    better = [
        replace(each, levels={"isolation": 4}, gates_passed=True, faults=each.faults // 2) for each in worse
    ]
    assert set(_unmet(better)) <= set(_unmet(worse))


@pytest.mark.parametrize(
    "entries",
    [{"sets": 0}, {"days": 4}, {"level": 5}, {"inspected": 0}, {"faults_allowed": 121}, {"blind_marks": 4}],
    ids=str,
)
def test_conditions_that_cannot_be_met_are_refused(entries):
    with pytest.raises(ScoringInputError) as refused:
        MasteryConditions(**entries)
    assert refused.value.field == next(iter(entries))


def test_more_faults_than_fans_are_refused():
    with pytest.raises(ScoringInputError, match="41 faults"):
        _set(2, faults=41)
