"""The score of one set, its gates, and when time earns nothing."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.marks import CriterionSpec, set_result

ISOLATION = CriterionSpec("isolation", "Isolation", "isolation", "counted", 3, True, blocks_time=True)
GAP = CriterionSpec("gap", "Lid gap", "placement", "window", 2, True, blocks_time=True)
FANS = CriterionSpec("fans", "Fan opening", "fan closure", "counted", 2, False)
TIME = CriterionSpec("time", "Time", "speed", "timed", 1, False)
RUBRIC = (ISOLATION, GAP, FANS, TIME)


def all_at(level):
    return dict.fromkeys(("isolation", "gap", "fans", "time"), level)


def score(levels) -> float:
    found = set_result(RUBRIC, levels).score
    assert found is not None
    return found


def test_a_set_at_the_top_scores_one_hundred_and_passes():
    result = set_result(RUBRIC, all_at(4))
    assert (result.score, result.gates_passed, result.time_credit, result.words) == (100, True, True, ())


def test_the_score_is_the_weighted_mean_of_levels_out_of_four():
    # By hand: (3*2 + 2*4 + 2*3 + 1*1) / (4 * 8) = 21 / 32 = 65.625 %.
    result = set_result(RUBRIC, {"isolation": 2, "gap": 4, "fans": 3, "time": 1})
    assert result.score == 65.625


def test_time_gives_no_credit_when_a_blocking_criterion_is_under_two():
    # By hand: (3*1 + 2*4 + 2*4 + 1*0) / (4 * 8) = 19 / 32 = 59.375 %.
    result = set_result(RUBRIC, all_at(4) | {"isolation": 1})
    assert result.time_credit is False
    assert result.score == 59.375
    assert "Time gives no credit: isolation is at level 1." in result.words


@pytest.mark.parametrize(
    ("levels", "words"),
    [
        (all_at(4), "Time counts."),
        (all_at(4) | {"isolation": 1}, "Time gives no credit."),
        ({"time": 4}, "Time waits for isolation and lid gap: not marked yet."),
        ({"time": 4, "gap": 4}, "Time waits for isolation: not marked yet."),
        ({"time": 4, "gap": 1}, "Time gives no credit."),  # whatever isolation will be
    ],
)
def test_time_is_not_said_to_count_before_everything_that_blocks_it_is_marked(levels, words: str):
    assert set_result(RUBRIC, levels).time_words == words


def test_every_reason_for_no_time_credit_is_named():
    result = set_result(RUBRIC, {"isolation": 1, "gap": 0, "time": 4})
    assert "Time gives no credit: isolation is at level 1 and lid gap is at level 0." in result.words


def test_a_slow_set_is_not_helped_by_losing_its_time_credit():
    slow = all_at(4) | {"time": 0}
    assert score(slow | {"isolation": 1}) <= score(slow)


def test_a_rubric_without_time_says_nothing_about_time():
    result = set_result((ISOLATION, FANS), {"isolation": 1, "fans": 4})
    assert result.words == ("Isolation: level 1, needs 2, gate not passed.",)
    assert result.time_words == ""


def test_a_missing_criterion_is_absent_and_never_level_zero():
    result = set_result(RUBRIC, {"isolation": 4, "gap": 4})
    assert result.score == 100
    assert result.words == ("Not marked yet, so left out of the score: Fan opening, Time.",)


def test_a_gate_without_a_level_never_passes():
    result = set_result(RUBRIC, {"isolation": 4, "fans": 4, "time": 4})
    assert result.gates_passed is False
    finding = {gate.code: gate for gate in result.gates}["gap"]
    assert (finding.level, finding.needed, finding.passed) == (None, 2, False)
    assert finding.words == "Lid gap: no level yet, needs 2, gate not passed."


def test_failed_gates_come_before_everything_else_said():
    result = set_result(RUBRIC, {"isolation": 1, "gap": 4, "fans": 4, "time": 4})
    assert result.words[0] == "Isolation: level 1, needs 2, gate not passed."


def test_nothing_marked_gives_no_score():
    result = set_result(RUBRIC, {})
    assert (result.score, result.gates_passed) == (None, False)


def test_a_criterion_of_no_weight_still_gates():
    weightless = CriterionSpec("hygiene", "Hygiene", "hygiene", "lines", 0, True, gate_min=3)
    assert set_result((weightless,), {"hygiene": 4}).score is None
    assert set_result((weightless,), {"hygiene": 2}).gates_passed is False


LEVELS = st.dictionaries(st.sampled_from([spec.code for spec in RUBRIC]), st.integers(0, 4))


@settings(max_examples=80)
@given(LEVELS, st.lists(st.floats(0, 1000), min_size=4, max_size=4))
def test_no_score_or_weight_ever_opens_a_gate(levels, weights):
    rubric = tuple(
        CriterionSpec(spec.code, spec.name, spec.skill, spec.kind, weight, spec.is_gate, 2, spec.blocks_time)
        for spec, weight in zip(RUBRIC, weights, strict=True)
    )
    result = set_result(rubric, levels)
    reached = levels.get("isolation", 0) >= 2 and levels.get("gap", 0) >= 2
    assert result.gates_passed is reached
    assert [gate.code for gate in result.gates] == ["isolation", "gap"]
    assert result.score is None or 0 <= result.score <= 100 + 1e-9


@settings(max_examples=80)
@given(LEVELS, st.sampled_from([spec.code for spec in RUBRIC]))
def test_a_lower_level_never_raises_the_score(levels, code):
    if not levels.get(code):
        levels[code] = 4
    lower = levels | {code: levels[code] - 1}
    assert score(lower) <= score(levels)


@pytest.mark.parametrize("level", [-1, 5])
def test_a_level_outside_zero_to_four_is_refused(level):
    with pytest.raises(ScoringInputError, match="Choose a level from 0 to 4") as caught:
        set_result(RUBRIC, {"gap": level})
    assert caught.value.code == "level_out_of_range"


def test_a_level_for_a_criterion_outside_the_rubric_is_refused():
    with pytest.raises(ScoringInputError) as caught:
        set_result(RUBRIC, {"colour": 3})
    assert caught.value.code == "unknown_criterion"


@pytest.mark.parametrize("weight", [-1, float("nan"), float("inf")])
def test_a_weight_that_cannot_be_is_refused(weight):
    with pytest.raises(ScoringInputError) as caught:
        CriterionSpec("fans", "Fan opening", "fan closure", "counted", weight, False)
    assert caught.value.code == "bad_weight"
