"""Which faults were worst, and which drills answer them (fault terms: common practice, no source)."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.drills import FaultSpec, fault_rates, propose_drills
from assessments.scoring.evidence import PositionFinding

SPECS = (
    FaultSpec("CLF", "Closed fan", "fan closure", False, "50 dry fans"),
    FaultSpec("BED", "Bead", "adhesive", False, "20 dips"),
    FaultSpec("DRY", "Too little adhesive", "adhesive", False, "20 dips"),
    FaultSpec("STK", "Sticky", "isolation", True, "30 isolations"),
    FaultSpec("TCH", "Touches the lid", "placement", True, "Dry placement"),
    FaultSpec("MIS", "Lash left bare", "coverage", False, "Sweep pass"),
)


def fans(count, *faults):
    return [PositionFinding("left", "inner", "1", frozenset(faults))] * count


def bare(count):
    return [PositionFinding("left", "inner", "1", bare=True)] * count


def codes(rates):
    return [rate.code for rate in rates]


def test_only_faults_that_were_seen_are_reported():
    assert codes(fault_rates(fans(2, "BED") + fans(38), SPECS)) == ["BED"]
    assert fault_rates(fans(40), SPECS) == ()
    assert fault_rates([], SPECS) == ()


def test_gate_skills_come_first_and_then_the_worst():
    rates = fault_rates(fans(9, "CLF") + fans(3, "BED") + fans(1, "STK") + fans(27), SPECS)
    assert codes(rates) == ["STK", "CLF", "BED"]


def test_a_rate_is_faulty_fans_over_fans_inspected():
    (rate,) = fault_rates(fans(2, "STK") + fans(36) + bare(2), SPECS[:5])
    assert (rate.faults, rate.inspected, rate.rate) == (2, 38, 2 / 38)


def test_a_bare_lash_counts_over_every_position():
    (rate,) = fault_rates(fans(30) + bare(10), SPECS)
    assert (rate.code, rate.faults, rate.inspected, rate.rate) == ("MIS", 10, 40, 0.25)


def test_two_faults_with_one_drill_take_one_place():
    rates = fault_rates(fans(9, "BED") + fans(8, "DRY") + fans(2, "CLF") + fans(21), SPECS)
    assert codes(propose_drills(rates)) == ["BED", "CLF"]


def test_the_worst_two_are_proposed_gates_first():
    rates = fault_rates(fans(9, "CLF") + fans(5, "BED") + fans(1, "TCH") + fans(25), SPECS)
    assert codes(propose_drills(rates)) == ["TCH", "CLF"]


@pytest.mark.parametrize(("limit", "expected"), [(0, []), (1, ["TCH"]), (5, ["TCH", "BED", "CLF"])])
def test_as_many_are_proposed_as_asked_for_and_ties_go_by_code(limit, expected):
    rates = fault_rates(fans(3, "CLF") + fans(3, "BED") + fans(1, "TCH") + fans(33), SPECS)
    assert codes(propose_drills(rates, limit=limit)) == expected


def test_nothing_seen_proposes_nothing():
    assert propose_drills(()) == ()


@settings(max_examples=60)
@given(st.lists(st.sets(st.sampled_from([spec.code for spec in SPECS[:5]])), max_size=40), st.randoms())
def test_the_order_of_findings_specs_and_rates_changes_nothing(ticked, shuffler):
    findings = [PositionFinding("right", "outer", "2", frozenset(faults)) for faults in ticked]
    expected = fault_rates(findings, SPECS)
    specs, mixed = list(SPECS), list(findings)
    shuffler.shuffle(specs)
    shuffler.shuffle(mixed)
    assert fault_rates(mixed, specs) == expected
    rates = list(expected)
    shuffler.shuffle(rates)
    assert propose_drills(rates) == propose_drills(expected)


@settings(max_examples=60)
@given(st.lists(st.sets(st.sampled_from([spec.code for spec in SPECS[:5]])), max_size=40))
def test_a_gate_fault_is_never_pushed_out_by_a_craft_fault(ticked):
    findings = [PositionFinding("right", "outer", "2", frozenset(faults)) for faults in ticked]
    proposed = propose_drills(fault_rates(findings, SPECS))
    seen_gates = {spec.code for spec in SPECS if spec.is_gate and any(spec.code in t for t in ticked)}
    assert seen_gates <= set(codes(proposed))
    assert len({rate.drill for rate in proposed}) == len(proposed) <= 2


def test_a_gate_is_told_by_its_spec_and_not_by_its_code():
    relaxed = tuple(replace(spec, is_gate=False) for spec in SPECS)
    rates = fault_rates(fans(9, "CLF") + fans(1, "STK") + fans(30), relaxed)
    assert codes(rates) == ["CLF", "STK"]
