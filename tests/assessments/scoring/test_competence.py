"""The decision on real sets: words, restarts, and agreement with every sequence of twelve."""

from itertools import product
from math import log
from typing import Any

import pytest

from assessments.scoring.characteristics import curve
from assessments.scoring.competence import decide
from assessments.scoring.competence_rules import (
    Conditions,
    FanSequential,
    LearningCusum,
    RunOfPasses,
    SetResult,
    WaldTest,
)
from assessments.scoring.programme_rules import PRESETS, parse_programme

PASS, FAIL, UNMARKED = SetResult(failed=False), SetResult(failed=True), SetResult()
SHORT = parse_programme(PRESETS["short_course"]).rule
WALD = parse_programme(PRESETS["test_out"]).rule
FANS = parse_programme(PRESETS["fan_counts"]).rule
RATES: dict[str, Any] = {"acceptable_rate": 0.10, "inadequate_rate": 0.30, "horizon": 12}


@pytest.mark.parametrize(
    "rule",
    [
        LearningCusum(**RATES, threshold=1.2),
        WaldTest(**RATES, refuse_risk=0.2, declare_risk=0.2),
        RunOfPasses(**RATES, length=3),
    ],
    ids=["learning cusum", "wald", "run"],
)
def test_decisions_on_all_sequences_of_12_sets_add_up_to_the_exact_chances(rule):
    declared = not_yet = 0.0
    for fails in product((False, True), repeat=12):
        status = decide(rule, [FAIL if failed else PASS for failed in fails]).status
        chance = 0.3 ** sum(fails) * 0.7 ** (12 - sum(fails))
        declared += chance * (status == "competent")
        not_yet += chance * (status == "not_yet")
    exact = curve(rule, rates=(0.3,))
    assert exact.declared[0] == pytest.approx(declared, abs=1e-12)
    assert exact.not_yet[0] == pytest.approx(not_yet, abs=1e-12)


@pytest.mark.parametrize("length", range(1, 13))
def test_decisions_agree_with_the_rule_worked_out_in_plain_words(length):
    # The sum written out: a pass adds ln(.9/.7), a fail takes ln 3 away, never below 0, until 1.2.
    rule = LearningCusum(**RATES, threshold=1.2)
    for fails in product((False, True), repeat=length):
        total, at = 0.0, None
        for place, failed in enumerate(fails, start=1):
            total = max(0.0, total + (-log(3) if failed else log(0.9 / 0.7)))
            if total > 1.2 - 1e-9:
                at = place
                break
        assert decide(rule, [FAIL if failed else PASS for failed in fails]).declared_at == at


def test_before_the_first_set_there_is_no_decision():
    found = decide(SHORT, [])
    assert (found.status, found.sets_left, found.progress) == ("no_data", 7, 0.0)
    assert found.words == "No graded sets yet; a decision at these risks needs at least 7."


def test_too_few_sets_say_how_many_a_decision_needs():
    # 7 ln(.9/.5) = 4.11 reaches the threshold of 4, 6 do not (arithmetic).
    assert decide(SHORT, [PASS] * 3).words == "3 sets graded; a decision at these risks needs at least 7."


def test_an_open_history_says_what_would_decide_it():
    assert decide(SHORT, [PASS] * 6 + [FAIL] + [PASS] * 3).words == (
        "Undecided after 10 sets: 1 of 10 failed. 1 more without a fault would decide it."
    )


def test_a_declaration_states_its_risk_with_the_number_of_sets():
    # .5^7 = .8 % (arithmetic): seven sets leave one way to be declared, all passed.
    found = decide(SHORT, [PASS] * 9)
    assert (found.status, found.declared_at, found.sets, found.sets_left) == ("competent", 7, 7, 0)
    assert found.attained.false_declared == pytest.approx(0.5**7)
    assert found.words == (
        "Competent after 7 sets: 0 of 7 failed. Over these 7 sets and their educators, a student who fails "
        "50 % of sets would be declared 0.8 % of the time; the rule states 6.5 % within 20."
    )


def test_the_learning_curve_sum_forgets_early_fails():
    assert decide(SHORT, [FAIL] * 6 + [PASS] * 7).status == "competent"


def test_past_the_horizon_the_grown_risk_is_said():
    found = decide(SHORT, [FAIL, PASS] * 12)
    assert found.attained.false_declared == pytest.approx(curve(SHORT, rates=(0.5,), sets=24).declared[0])
    assert "The stated risk holds for 20 sets; over these 24 it has grown to 8.2 %." in found.words


def test_an_unmarked_set_is_left_out_and_counted():
    found = decide(SHORT, [PASS, UNMARKED, PASS])
    assert (found.sets, found.skipped) == (2, 1)
    assert found.words.endswith("1 set did not count.")


def test_the_place_of_a_declaration_counts_every_set_of_the_history():
    assert decide(SHORT, [UNMARKED, *[PASS] * 7]).declared_at == 8


def test_not_yet_waits_for_recorded_teaching():
    # 3 fails: 3 ln 3 = 3.30 > ln(.95/.1) = 2.25 (arithmetic), so "not yet" comes at set 3.
    told = decide(WALD, [FAIL, FAIL, FAIL])
    assert told.status == "not_yet"
    assert told.words == "Not yet: 3 of 3 failed. Teach first; the test starts again with the set after that."
    assert decide(WALD, [FAIL] * 3 + [PASS] * 20).status == "not_yet"


def test_teaching_starts_the_test_again_and_the_restart_is_counted_in_the_risk():
    again = [FAIL] * 3 + [SetResult(failed=False, retaught=True)] + [PASS] * 11
    found = decide(WALD, again)
    assert (found.status, found.restarts, found.sets) == ("competent", 1, 15)
    assert "The test was started again once; the risk above counts that." in found.words
    once = decide(WALD, [PASS] * 12)
    assert found.attained.false_declared > once.attained.false_declared


def test_a_lenient_educators_passes_take_longer():
    lenient = SetResult(failed=False, shift=-1.0)
    assert decide(SHORT, [lenient] * 7).status == "undecided"
    assert decide(SHORT, [lenient] * 20).status == "competent"


def test_fan_counts_decide_in_fewer_sets_than_passes_do():
    clean = SetResult(failed=False, faults=0, inspected=40)
    assert decide(FANS, [clean] * 4).declared_at == 3
    assert decide(FANS, [SetResult(faults=9, inspected=40)]).words.startswith("Not yet: 9 faults in 40 fans.")


def test_the_risk_of_fan_counts_uses_the_fans_really_inspected():
    few = SetResult(faults=0, inspected=20)
    found = decide(FANS, [few] * 3)
    assert isinstance(FANS, FanSequential)
    assert found.attained.sets == 3
    assert few.conditions == Conditions(0.0, 20, False)
    assert found.status == "undecided"


def test_progress_runs_from_nothing_to_one_and_falls_back_with_a_fail():
    steps = [decide(SHORT, [PASS] * n).progress for n in range(8)]
    assert steps == sorted(steps)
    assert (steps[0], steps[7]) == (0.0, 1.0)
    assert decide(SHORT, [PASS] * 4 + [FAIL]).progress < steps[4]
