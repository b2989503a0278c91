"""Exact characteristics against independently enumerated values.

CALC = exact enumeration done apart from this program, not a published number.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.adjustment import shifted_rate
from assessments.scoring.characteristics import attained, clean_sets_left, curve, risks, threshold_for
from assessments.scoring.competence_rules import Conditions, LearningCusum, RunOfPasses, WaldTest
from assessments.scoring.programme_rules import PRESETS, THREE_IN_A_ROW, parse_programme, parse_rule

RATES = {"acceptable_rate": 0.10, "inadequate_rate": 0.30}
LONG = LearningCusum(**RATES, threshold=3.77, horizon=40)
WALD = WaldTest(**RATES, refuse_risk=0.10, declare_risk=0.05, horizon=40)


def test_walds_test_truncated_at_40_sets():
    # CALC, to 2e-4: declared, turned away, undecided, mean sets at .05, .10, .20, .30.
    rows = {
        0.05: (0.9881, 0.0059, 0.0060, 16.06),
        0.10: (0.8505, 0.0635, 0.0860, 21.25),
        0.20: (0.2839, 0.5098, 0.2063, 23.02),
        0.30: (0.0428, 0.9045, 0.0527, 15.12),
    }
    found = curve(WALD, rates=tuple(rows))
    for place, (declared, refused, undecided, mean) in enumerate(rows.values()):
        assert found.declared[place] == pytest.approx(declared, abs=2e-4)
        assert found.not_yet[place] == pytest.approx(refused, abs=2e-4)
        assert 1 - found.declared[place] - found.not_yet[place] == pytest.approx(undecided, abs=2e-4)
        assert found.mean_sets[place] == pytest.approx(mean, abs=0.01)
    assert clean_sets_left(WALD) == 12


def test_the_learning_curve_sum_at_ten_and_thirty_percent():
    # CALC, to 2e-4: p0 = .10, d = .20, h = 3.77; declared by 40 and by 20 sets at .30, .10, .05.
    assert curve(LONG, rates=(0.30, 0.10, 0.05)).declared == pytest.approx((0.0496, 0.8456, 0.9869), abs=2e-4)
    by_20 = curve(LONG, rates=(0.30, 0.10, 0.05), sets=20).declared
    assert by_20 == pytest.approx((0.0073, 0.2594, 0.5282), abs=2e-4)
    assert clean_sets_left(LONG) == 16


@pytest.mark.parametrize(
    ("asked", "threshold", "false", "true"),
    [  # CALC, to 2e-4: (p0, p0 + d, N, alpha) -> h, declared at p0 + d, declared at p0
        ((0.10, 0.30, 40, 0.05), 3.77, 0.0496, 0.8456),
        ((0.10, 0.30, 20, 0.05), 3.02, 0.0380, 0.5622),
        ((0.20, 0.40, 40, 0.05), 3.61, 0.0493, 0.7566),
        ((0.05, 0.20, 40, 0.05), 3.61, 0.0425, 0.7819),
    ],
)
def test_thresholds_are_the_lowest_in_hundredths_that_keep_the_risk(asked, threshold, false, true):
    assert threshold_for(*asked) == pytest.approx(threshold)
    rates = {"acceptable_rate": asked[0], "inadequate_rate": asked[1], "horizon": asked[2]}
    found = risks(LearningCusum(**rates, threshold=threshold))
    assert (found.false_declared, found.declared) == (
        pytest.approx(false, abs=2e-4),
        pytest.approx(true, abs=2e-4),
    )
    assert risks(LearningCusum(**rates, threshold=threshold - 0.01)).false_declared > asked[3]


@pytest.mark.parametrize(("by", "chance"), [(50, 0.0002), (100, 0.0028), (200, 0.0110)])
def test_a_threshold_of_six_is_rarely_crossed_at_fifty_five_percent(by, chance):
    # CALC, to 1e-4: p0 = .40, d = .15, h = 6: chance of a false declaration by 50, 100, 200 trials.
    rule = LearningCusum(acceptable_rate=0.40, inadequate_rate=0.55, threshold=6.0, horizon=200)
    assert curve(rule, rates=(0.55,), sets=by).declared[0] == pytest.approx(chance, abs=1e-4)


def test_a_threshold_of_three_is_crossed_sometimes_by_fifty():
    # CALC, to 1e-4: the same with h = 3 gives .0591 by 50 trials.
    rule = LearningCusum(acceptable_rate=0.40, inadequate_rate=0.55, threshold=3.0, horizon=50)
    assert curve(rule, rates=(0.55,)).declared[0] == pytest.approx(0.0591, abs=1e-4)


@pytest.mark.parametrize(
    ("preset", "declared", "middle"),
    [  # CALC, to 1e-3: within 20 sets at fail rates .5, .3, .1
        ("short_course", (0.065, 0.441, 0.966), 8),
        ("seven_in_a_row", (0.058, 0.382, 0.929), None),
    ],
)
def test_presets_for_twenty_sets(preset, declared, middle):
    found = curve(parse_programme(PRESETS[preset]).rule, rates=(0.5, 0.3, 0.1))
    assert found.sets == 20
    assert found.declared == pytest.approx(declared, abs=1e-3)
    if middle:
        assert found.median_sets[2] == middle


def test_three_passes_in_a_row_declare_most_who_fail_every_second_set():
    # Runs of 3 in 20 fair tosses: 1 - T(20) / 2^20 with T(n) = T(n-1) + T(n-2) + T(n-3) (arithmetic).
    without = [1, 2, 4]
    while len(without) <= 20:
        without.append(sum(without[-3:]))
    found = risks(parse_rule(THREE_IN_A_ROW))
    assert found.false_declared == pytest.approx(1 - without[20] / 2**20, abs=1e-12)
    assert found.false_declared > 0.75
    assert found.median_sets == 3


def test_ignoring_a_lenient_educator_turns_five_percent_into_sixty_five():
    # CALC: p0 = .10, p1 = .30, h = 3.77, 40 sets; fails rarer by 1 and by .5 logit: .65 and .27.
    assert risks(LONG).false_declared <= 0.05
    lenient, milder = float(shifted_rate(0.30, -1.0)), float(shifted_rate(0.30, -0.5))
    ignored = curve(LONG, rates=(lenient, milder)).declared
    assert ignored == pytest.approx((0.65, 0.27), abs=5e-3)


@pytest.mark.parametrize(
    ("shift", "false", "tolerance"),
    [(-1.0, 0.008, 5e-4), (0.8, 0.081, 5e-4), (0.0, 0.0496, 2e-4)],  # CALC
)
def test_with_adjustment_one_educator_alone_leaves_between_one_and_eight_percent(shift, false, tolerance):
    found = attained(LONG, (Conditions(shift),) * 40)
    assert found.false_declared == pytest.approx(false, abs=tolerance)


def test_with_adjustment_the_most_lenient_educator_costs_power():
    # CALC: .27 of those at the acceptable rate are declared by an educator 1 logit lenient.
    assert attained(LONG, (Conditions(-1.0),) * 40).declared == pytest.approx(0.27, abs=5e-3)


def test_with_adjustment_a_mix_of_educators_attains_the_stated_risk():
    # CALC: shifts -.8, 0, +.6 in turn over 40 sets: .052 and .839.
    found = attained(LONG, tuple(Conditions(shift) for shift in (-0.8, 0.0, 0.6) * 14)[:40])
    assert (found.sets, found.false_declared, found.declared) == (
        40,
        pytest.approx(0.052, abs=5e-4),
        pytest.approx(0.839, abs=5e-4),
    )


def test_no_sets_attain_no_risk():
    assert attained(LONG, ()).false_declared == 0.0


def test_a_restart_adds_at_most_its_own_risk():
    once, again = risks(WALD), risks(WALD, restarting=True)
    assert once.false_declared < again.false_declared < 40 / clean_sets_left(WALD) * WALD.declare_risk


def test_the_sentence_names_the_sets_beside_every_rate():
    assert risks(parse_programme(PRESETS["short_course"]).rule).words == (
        "Within 20 sets, a student who fails 50 % of sets is declared competent 6.5 % of the time, "
        "and a student who fails 10 % of sets 96.6 % of the time, half of them by set 8."
    )


def test_a_rule_out_of_reach_says_so_with_none():
    rule = LearningCusum(acceptable_rate=0.100, inadequate_rate=0.101, threshold=3.0, horizon=40)
    assert clean_sets_left(rule) is None
    assert curve(rule, rates=(0.1,)).median_sets == (None,)


@settings(max_examples=20, deadline=None)
@given(st.integers(1, 9), st.integers(1, 30))
def test_the_exact_run_chance_obeys_its_recursion(length, sets):
    # W. Feller, An Introduction to Probability Theory, ch. XIII, a run of r passes with pass chance q (MEM?):
    # F(r) = q^r, F(n) = F(n-1) + (1 - F(n-r-1)) (1-q) q^r.
    q = 0.7
    done = [0.0] * length + [q**length]
    for n in range(length + 1, sets + 1):
        done.append(done[n - 1] + (1 - done[n - length - 1]) * (1 - q) * q**length)
    rule = RunOfPasses(acceptable_rate=0.1, inadequate_rate=0.5, length=length, horizon=sets)
    assert curve(rule, rates=(0.3,)).declared[0] == pytest.approx(
        done[sets] if sets < len(done) else 0.0, abs=1e-12
    )
