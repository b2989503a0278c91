"""One inspection on both eyes."""

import pytest

from assessments.selectors.faults import fault_map, fault_meanings
from courses.models import Fault
from tests.factories.assessments import Bench, Outcome, make_graded_set


def test_every_position_is_drawn_where_it_was_inspected(bench: Bench):
    grade = make_graded_set(bench)
    found = fault_map(grade.inspection, bench.brief)
    assert len(found.positions) == 40  # 5 a zone an eye, 4 zones, 2 eyes
    assert found.lash_map == bench.brief.lash_map
    assert {mark.eye for mark in found.positions} == {"left", "right"}
    assert all(1 <= mark.fan <= mark.fans_in_cell for mark in found.positions)
    assert {mark.kind for mark in found.positions} == {"clean"}
    assert found.lines == () and found.rates == ()


def test_a_faulty_and_a_bare_position_are_told_in_words_under_their_number(bench: Bench):
    grade = make_graded_set(bench, outcome=Outcome(faults={3: ["STK", "CLF"]}, bare=[7]))
    found = fault_map(grade.inspection, bench.brief)
    faulty, bare = found.lines
    place = grade.inspection.positions.get(index=3)
    assert faulty.label == "4"
    assert faulty.place.startswith(f"{place.eye.capitalize()} eye, ")
    assert faulty.place.endswith(f"fan {place.fan}")
    assert set(faulty.faults) == {"Sticky", "Closed or narrow fan"}
    assert (bare.label, bare.faults) == ("8", ("lash left bare",))
    assert [mark.kind for mark in found.positions if mark.index in {3, 7}] == ["faulty", "bare"]


@pytest.mark.parametrize(("off_by", "kind"), [(2, "long"), (-1, "short")])
def test_a_wrong_length_is_drawn_as_the_way_it_errs_with_both_lengths_in_words(
    bench: Bench, off_by: int, kind: str
):
    grade = make_graded_set(bench, outcome=Outcome(faults={3: ["MAP"]}))
    place = grade.inspection.positions.get(index=3)
    planned = place.planned_mm(bench.brief.lash_map)
    grade.inspection.positions.filter(index=3).update(found_length_mm=planned + off_by)
    found = fault_map(grade.inspection, bench.brief)
    assert [mark.kind for mark in found.positions if mark.index == 3] == [kind]
    assert found.lines[0].faults == (
        f"Wrong length for the zone: {planned + off_by} mm found, {planned} mm planned",
    )
    grade.inspection.positions.get(index=3).faults.add(Fault.objects.get(code="STK"))
    both = fault_map(grade.inspection, bench.brief).positions
    assert [mark.kind for mark in both if mark.index == 3] == ["faulty"]


def test_rates_put_gate_skills_first_and_leave_bare_lashes_out_of_the_fans(bench: Bench):
    outcome = Outcome(faults={0: ["CLF"], 1: ["CLF"], 2: ["STK"]}, bare=[5])
    grade = make_graded_set(bench, outcome=outcome)
    rates = fault_map(grade.inspection, bench.brief).rates
    told = [(rate.code, rate.faults, rate.inspected) for rate in rates]
    assert told == [("STK", 1, 39), ("CLF", 2, 39), ("MIS", 1, 40)]


def test_a_fault_map_costs_three_queries(bench: Bench, django_assert_num_queries):
    grade = make_graded_set(bench, outcome=Outcome(faults={0: ["STK"]}))
    inspection = grade.inspection
    with django_assert_num_queries(3):
        fault_map(inspection, bench.brief)


def test_meanings_come_by_code(bench: Bench):
    assert set(fault_meanings(["STK", "GAP"])) == {"STK", "GAP"}
    assert fault_meanings([]) == {}
