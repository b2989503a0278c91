"""Sampling plans against published tables and exact binomial sums.

Status words: MEM = published value from memory, reproduced; MEM? = not sure the source prints exactly this;
CALC = exact enumeration or another library, not a published number.
"""

from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.acceptance import (
    acceptance_probability,
    average_inspected,
    average_outgoing_rate,
    clean_fans_needed,
    design_single_plan,
    judge,
    outgoing_limit,
)
from assessments.scoring.evidence import ScoringInputError

PERCENTS = np.arange(1, 13) / 100

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.2.3.2, plan n = 52, c = 3.
NIST_OC_EXACT = [  # CALC: exact binomial
    *(0.99815, 0.97977, 0.92954, 0.84599, 0.73832, 0.61959),
    *(0.50185, 0.39376, 0.30028, 0.22319, 0.16207, 0.11520),
]
NIST_OC_PRINTED = [
    0.998,
    0.980,
    0.930,
    0.845,
    0.739,
    0.620,
    0.502,
    0.394,
    0.300,
    0.223,
    0.162,
    0.115,
]  # MEM, to 1.5e-3
NIST_AOQ = [
    0.00993,
    0.01949,
    0.02774,
    0.03366,
    0.03672,
    0.03698,
    0.03495,
    0.03134,
    0.02688,
    0.02220,
]  # MEM, to 1e-4
NIST_ATI = [  # CALC; the handbook's integers (MEM) are these truncated or rounded
    *(70.37, 253.30, 752.96, 1584.10, 2655.22),
    *(3836.28, 5007.62, 6082.85, 7012.82, 7779.73),
]


def test_the_operating_curve_of_52_and_3_is_the_exact_binomial_one():
    assert acceptance_probability(PERCENTS, 52, 3) == pytest.approx(NIST_OC_EXACT, abs=1e-5)


def test_the_operating_curve_of_52_and_3_agrees_with_the_handbooks_printed_one():
    assert acceptance_probability(PERCENTS, 52, 3) == pytest.approx(NIST_OC_PRINTED, abs=1.5e-3)


def test_outgoing_rate_and_fans_inspected_agree_with_the_handbook():
    assert average_outgoing_rate(PERCENTS[:10], 52, 3, lot=10_000) == pytest.approx(NIST_AOQ, abs=1e-4)
    assert average_inspected(PERCENTS[:10], 52, 3, lot=10_000) == pytest.approx(NIST_ATI, abs=0.01)


def test_the_plan_89_and_2_agrees_with_montgomery():
    # D. C. Montgomery, Introduction to Statistical Quality Control, single sampling n = 89, c = 2. MEM, 1e-4.
    rates = [0.005, *(PERCENTS[:9])]
    printed = [0.9897, 0.9397, 0.7366, 0.4985, 0.3042, 0.1721, 0.0919, 0.0468, 0.0230, 0.0109]
    assert acceptance_probability(rates, 89, 2) == pytest.approx(printed, abs=1e-4)


def test_the_outgoing_limit_of_89_and_2_is_where_the_curve_peaks():
    # Montgomery reads about .0155 off a chart (MEM?); exact .01525 at p = .0253 (CALC).
    worst, at = outgoing_limit(89, 2, lot=10_000)
    assert worst == pytest.approx(0.01525, abs=1e-5)
    assert at == pytest.approx(0.0253, abs=1e-4)


@pytest.mark.parametrize(
    ("asked", "inspect", "limit", "refused", "accepted"),
    [  # CALC: smallest exact binomial plans for refuse risk .05, accept risk .10
        ((0.05, 0.20), 38, 4, 0.0397, 0.0986),
        ((0.01, 0.10), 52, 2, 0.0154, 0.0966),
        ((0.02, 0.08), 98, 4, 0.0473, 0.0995),
    ],
)
def test_two_point_designs_are_the_smallest_that_keep_both_risks(asked, inspect, limit, refused, accepted):
    plan = design_single_plan(good_rate=asked[0], bad_rate=asked[1])
    assert (plan.inspect, plan.limit) == (inspect, limit)
    assert plan.attained_refuse_risk == pytest.approx(refused, abs=1e-4)
    assert plan.attained_accept_risk == pytest.approx(accepted, abs=1e-4)


def test_a_small_lot_is_judged_without_replacement():
    # CALC by hand: hypergeometric lot 50 with 5 faulty, 8 inspected, 1 allowed: .82412; binomial .81310.
    by_hand = sum(comb(5, k) * comb(45, 8 - k) for k in (0, 1)) / comb(50, 8)
    assert by_hand == pytest.approx(0.82412, abs=1e-5)
    assert float(acceptance_probability(0.10, 8, 1, lot=50)) == pytest.approx(by_hand, abs=1e-12)
    assert float(acceptance_probability(0.10, 8, 1)) == pytest.approx(0.81310, abs=1e-5)


def test_a_small_lot_of_good_or_of_faulty_fans_only_leaves_nothing_to_chance():
    assert acceptance_probability([0.0, 1.0], 8, 1, lot=50) == pytest.approx([1.0, 0.0], abs=1e-12)


@pytest.mark.parametrize(("rate", "fans"), [(0.10, 29), (0.05, 59)])
def test_clean_fans_that_show_a_rate_at_95_percent(rate, fans):
    # Arithmetic: (1 - p)^n is at most .05 from this n on.
    assert clean_fans_needed(rate) == fans
    assert (1 - rate) ** fans <= 0.05 < (1 - rate) ** (fans - 1)


def test_the_verdict_states_plan_and_risk():
    plan = design_single_plan()
    assert judge(plan, 2, 38).words == (
        "Accept: 2 faults in 38 (limit 4). A 20 % fault rate would pass at most 10 % of the time."
    )
    assert judge(plan, 5, 38).words == (
        "Reject: 5 faults in 38 (limit 4). A 5 % fault rate would be turned away at most 5 % of the time."
    )
    assert judge(plan, 1, 30).words == "30 fans inspected; a decision at these risks needs 38."


def test_a_limit_already_passed_rejects_however_few_fans_were_inspected():
    assert judge(design_single_plan(), 5, 20).status == "reject"


def test_more_fans_than_planned_state_the_larger_risk_instead_of_the_planned_one():
    # Exact binomial by enumeration: more than 4 faults in 60 fans at 5 % happens 18.0 % of the time (CALC).
    refused = 1 - sum(comb(60, k) * 0.05**k * 0.95 ** (60 - k) for k in range(5))
    assert refused == pytest.approx(0.180, abs=5e-4)
    assert judge(design_single_plan(), 5, 60).words.endswith("would be turned away 18 % of the time.")


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 120), st.data())
def test_a_higher_fault_rate_is_never_accepted_more_often(inspect, data):
    limit = data.draw(st.integers(0, inspect))
    accepted = acceptance_probability(np.linspace(0, 1, 51), inspect, limit)
    assert np.all(np.diff(accepted) <= 1e-12)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.01, 0.2), st.floats(0.05, 0.3))
def test_a_designed_plan_keeps_its_risks_and_one_fan_fewer_would_not(good, further):
    plan = design_single_plan(good_rate=good, bad_rate=good + further + 0.02)
    assert plan.attained_refuse_risk <= plan.refuse_risk + 1e-12
    assert plan.attained_accept_risk <= plan.accept_risk + 1e-12
    if plan.inspect > plan.limit + 1:
        fewer = acceptance_probability(plan.bad_rate, plan.inspect - 1, plan.limit)
        assert float(fewer) > plan.accept_risk


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: design_single_plan(good_rate=0.2, bad_rate=0.1), "rates_out_of_order"),
        (lambda: design_single_plan(good_rate=0.10, bad_rate=0.1001), "plan_not_found"),
        (lambda: design_single_plan(refuse_risk=0), "risk_out_of_range"),
        (lambda: acceptance_probability(1.2, 10, 1), "rate_out_of_range"),
        (lambda: acceptance_probability(0.1, 0, 1), "bad_plan"),
        (lambda: acceptance_probability(0.1, 60, 1, lot=50), "lot_too_small"),
        (lambda: judge(design_single_plan(), 5, 4), "faults_exceed_inspected"),
        (lambda: clean_fans_needed(0), "rates_out_of_range"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(call, code):
    with pytest.raises(ScoringInputError) as refused:
        call()
    assert refused.value.code == code
    assert refused.value.message.endswith(".")
