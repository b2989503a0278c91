"""Fan-by-fan limits against the published tables. MEM = published value from memory, reproduced."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.item_plans import ItemPlan

NIST = ItemPlan(0.01, 0.10, 0.05, 0.10)


def test_lines_agree_with_the_nist_handbook():
    # NIST/SEMATECH e-Handbook 6.2.3.4: h1 = .939, h2 = 1.205, s = .0397. MEM, to .005.
    assert NIST.accept_gap == pytest.approx(0.939, abs=0.005)
    assert NIST.reject_gap == pytest.approx(1.205, abs=0.005)
    assert NIST.slope == pytest.approx(0.0397, abs=0.0005)


@pytest.mark.parametrize(
    ("fans", "limits"),
    [
        (1, (None, None)),
        *((n, (None, 2)) for n in range(2, 20)),
        *((n, (None, 3)) for n in range(20, 24)),
        *((n, (0, 3)) for n in range(24, 27)),
    ],
)
def test_the_decision_table_agrees_with_the_nist_handbook(fans, limits):
    # NIST/SEMATECH e-Handbook 6.2.3.4, table for n = 1..26. MEM.
    assert NIST.limits(fans) == limits


def test_lines_agree_with_wald_1947():
    # A. Wald, Sequential Analysis (1947), p0 = .1, p1 = .3, alpha = .02, beta = .03. MEM?, to .005.
    plan = ItemPlan(0.1, 0.3, 0.02, 0.03)
    assert plan.accept_gap == pytest.approx(2.583, abs=0.005)
    assert plan.reject_gap == pytest.approx(2.875, abs=0.005)
    assert plan.slope == pytest.approx(0.1862, abs=0.0005)


@given(st.integers(1, 500))
def test_no_count_is_both_accepted_and_rejected(fans):
    accept, reject = NIST.limits(fans)
    assert accept is None or reject is None or accept < reject


@pytest.mark.parametrize(
    ("entries", "code"),
    [((0.1, 0.1, 0.05, 0.1), "rates_out_of_order"), ((0.01, 0.1, 0.5, 0.5), "risk_out_of_range")],
)
def test_rates_and_risks_that_cannot_be_are_refused(entries, code):
    with pytest.raises(ScoringInputError) as refused:
        ItemPlan(*entries)
    assert refused.value.code == code
