"""The watch after a declaration, against published CUSUM tables and worked data.

MEM = published value from memory, reproduced; CALC = exact enumeration done apart, not a published number.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import ndtr

from assessments.scoring.competence_rules import Conditions, LearningCusum, SetResult, floored
from assessments.scoring.lapse import LapseWatch, alarm_threshold, follow, run_lengths, watch_risks, watched
from assessments.scoring.programme_rules import PRESETS, parse_programme

PASS, FAIL, UNMARKED = SetResult(failed=False), SetResult(failed=True), SetResult()
SHORT = parse_programme(PRESETS["short_course"])
HALF = 200  # lattice points on each side


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalSums(LapseWatch):
    """Sums of normal values less .5 on the lattice of Brook and Evans: the limit lies between two points."""

    @property
    def step(self):
        return self.threshold / 99.5

    def chances(self, rates, conditions):
        """Here a "rate" of .5 + d / 100 stands for a shift of d standard deviations."""
        shifts = (np.asarray(rates) - 0.5) * 100
        edges = (np.arange(-HALF, HALF + 2) - 0.5) * self.step
        below = ndtr(edges[:, None] + 0.5 - shifts[None, :])
        below[0], below[-1] = 0.0, 1.0
        return np.diff(below, axis=0)

    def move(self, evidence, outcome, conditions):
        return floored(evidence, (outcome - HALF) * self.step)


def _one_sided(limit, shifts):
    rule = NormalSums(acceptable_rate=0.1, inadequate_rate=0.3, horizon=40, threshold=limit)
    return np.array(run_lengths(rule, [0.5 + shift / 100 for shift in shifts]))


def test_one_sided_normal_run_lengths_agree_with_the_published_ones():
    # D. C. Montgomery, k = .5, no shift: h = 4 335.4, h = 5 930.9. MEM, to .5 %.
    assert _one_sided(4.0, [0.0])[0] == pytest.approx(335.4, rel=0.005)
    assert _one_sided(5.0, [0.0])[0] == pytest.approx(930.9, rel=0.005)


def test_two_sided_normal_run_lengths_agree_with_the_nist_handbook():
    # NIST/SEMATECH e-Handbook 6.3.2.3 and Montgomery, k = .5, h = 4. MEM, to .5 % or the printed digit.
    printed = {
        0: 168,
        0.25: 74.2,
        0.5: 26.6,
        0.75: 13.3,
        1: 8.38,
        1.5: 4.75,
        2: 3.34,
        2.5: 2.62,
        3: 2.19,
        4: 1.71,
    }
    shifts = np.array(list(printed), dtype=float)
    other = np.full(len(shifts), np.inf)
    other[:2] = _one_sided(4.0, -shifts[:2])  # past half a deviation the other side all but never alarms
    both = 1 / (1 / _one_sided(4.0, shifts) + 1 / other)
    assert both == pytest.approx(list(printed.values()), rel=0.005)


def test_the_sums_of_the_nist_worked_data():
    # NIST/SEMATECH e-Handbook 6.3.2.3, target 325, k = .3175, h = 4.1959. Data and sums MEM, to .01.
    data = [
        *(324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600),
        *(324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350),
    ]
    high, low, highs, lows = np.zeros(1), np.zeros(1), [], []
    for value in data:
        high, low = floored(high, value - 325 - 0.3175), floored(low, 325 - 0.3175 - value)
        highs.append(float(high[0]))
        lows.append(float(low[0]))
    assert highs[12:] == pytest.approx([3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04], abs=0.01)
    assert next(place for place, each in enumerate(highs, start=1) if each > 4.1959) == 14
    assert (lows.index(max(lows)) + 1, max(lows)) == (8, pytest.approx(0.72, abs=0.01))


@pytest.mark.parametrize(
    ("threshold", "good", "slipped", "false_alarm"),
    [(2.0, 73.7, 10.47, 0.412), (2.5, 141.4, 13.68, 0.230), (3.0, 238.7, 16.53, 0.138)],  # CALC, to 1 %
)
def test_watch_on_fails_at_ten_and_thirty_percent(threshold, good, slipped, false_alarm):
    watch = LapseWatch(acceptable_rate=0.10, inadequate_rate=0.30, threshold=threshold, horizon=40)
    found = watch_risks(watch)
    assert found.sets_to_false_alarm == pytest.approx(good, rel=0.01)
    assert found.sets_to_alarm == pytest.approx(slipped, rel=0.01)
    assert found.false_alarm == pytest.approx(false_alarm, rel=0.01)


def test_the_short_course_watch():
    # CALC, to 1e-3: h = 3.5, false review .072 in 20 sets, caught .834 in 10.
    found = watch_risks(SHORT.watch)
    assert (found.sets, found.soon) == (20, 10)
    assert found.false_alarm == pytest.approx(0.072, abs=1e-3)
    assert found.caught == pytest.approx(0.834, abs=1e-3)
    assert found.words == (
        "While work stays good, 7.2 % are sent to review by chance within 20 sets; "
        "once it slips to 50 % failed sets, 83.4 % are noticed within 10."
    )


def test_run_lengths_of_an_alarm_at_the_first_fail_are_geometric():
    # One fail adds ln 3 = 1.10: with a threshold of 1 the mean is 1 / p (arithmetic).
    watch = LapseWatch(acceptable_rate=0.10, inadequate_rate=0.30, threshold=1.0, horizon=40)
    assert run_lengths(watch, (0.02, 0.10, 0.50)) == pytest.approx((50, 10, 2))


def test_run_lengths_agree_with_simulated_ones():
    # 4,000 invented students, fixed seed; within four standard errors (the law is nearly exponential).
    watch = LapseWatch(acceptable_rate=0.10, inadequate_rate=0.50, threshold=2.0, horizon=20)
    rng = np.random.default_rng(3)
    evidence, length = np.zeros(4000), np.zeros(4000)
    for number in range(1, 2000):
        evidence = watch.move(evidence, watch.draw(0.2, Conditions(), rng, 4000), Conditions())
        length = np.where((length == 0) & (watch.verdict(evidence) > 0), number, length)
    assert length.min() > 0
    expected = run_lengths(watch, (0.2,))[0]
    assert abs(length.mean() - expected) < 4 * length.std() / np.sqrt(4000)


def test_a_lapse_sends_to_review_and_the_rule_starts_again():
    # Seven passes declare; three fails in a row pass 3.5 (3 ln 5 = 4.83, 2 ln 5 = 3.22: arithmetic).
    found = follow(SHORT.rule, SHORT.watch, [PASS] * 7 + [FAIL] * 3 + [PASS] * 2)
    assert (found.status, found.declared_at, found.alarmed_at) == ("review", (7,), (10,))
    assert found.words == (
        "In review: work slipped at set 10, so the rule starts again. "
        "2 sets graded; a decision at these risks needs at least 7."
    )


def test_after_a_review_seven_more_passes_declare_again():
    found = follow(SHORT.rule, SHORT.watch, [PASS] * 7 + [FAIL] * 3 + [PASS] * 7 + [FAIL])
    assert (found.status, found.declared_at, found.alarmed_at) == ("competent", (7, 17), (10,))
    assert found.watch == (pytest.approx(np.log(5)),)


def test_unmarked_sets_leave_the_watch_where_it_was():
    sums, alarm = watched(SHORT.watch, [FAIL, UNMARKED, PASS])
    assert sums[0] == sums[1] > sums[2]
    assert alarm is None


def test_fails_from_a_severe_educator_weigh_less():
    severe = SetResult(failed=True, shift=1.0)
    assert watched(SHORT.watch, [severe])[0][0] < watched(SHORT.watch, [FAIL])[0][0]


def test_without_a_watch_a_declaration_stands():
    found = follow(SHORT.rule, None, [PASS] * 7 + [FAIL] * 9)
    assert (found.status, found.declared_at, found.alarmed_at, found.watch) == ("competent", (7,), (), ())


def test_nobody_is_watched_before_a_declaration():
    found = follow(SHORT.rule, SHORT.watch, [FAIL] * 9)
    assert (found.status, found.declared_at, found.alarmed_at) == ("undecided", (), ())


def test_a_threshold_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match="threshold"):
        LearningCusum(acceptable_rate=0.1, inadequate_rate=0.3, horizon=9, threshold=-1)


@pytest.mark.parametrize(("ready", "slipped", "horizon", "risk"), [(0.1, 0.5, 20, 0.05), (0.1, 0.3, 40, 0.1)])
def test_the_alarm_threshold_is_the_lowest_that_keeps_the_risk(ready, slipped, horizon, risk):
    found = alarm_threshold(ready, slipped, horizon, risk)

    def false_alarm(threshold):
        watch = LapseWatch(
            acceptable_rate=ready, inadequate_rate=slipped, horizon=horizon, threshold=round(threshold, 2)
        )
        return watch_risks(watch).false_alarm

    assert false_alarm(found) <= risk < false_alarm(found - 0.01)
