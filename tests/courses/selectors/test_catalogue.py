import pytest

from academy.errors import NotHere
from courses.selectors.catalogue import bench_faults, drills, fault_by_code, faults, skills
from courses.services.catalogue import load_catalogue

pytestmark = pytest.mark.django_db


def test_skills_come_with_their_faults_and_drills_in_two_queries(django_assert_num_queries):
    load_catalogue()
    with django_assert_num_queries(2):
        found = {skill.code: [fault.drill.name for fault in skill.faults.all()] for skill in skills()}
    assert found["wrap"] == ["Marked grip", "Slide and seat", "Side of the lash"]
    assert found["time"] == []


def test_faults_of_gate_skills_come_first():
    load_catalogue()
    gates = [fault.skill.is_gate for fault in faults() if fault.at_bench]
    assert gates == sorted(gates, reverse=True)


def test_the_bench_ticks_only_what_counts_on_the_fan_shape():
    load_catalogue()
    on_open, on_spike = ({fault.code for fault in bench_faults(shape)} for shape in ("open", "spike"))
    assert on_open - on_spike == {"CLF", "ASY"}
    assert on_spike - on_open == {"OPN"}
    assert "SYM" not in on_open


def test_every_drill_is_offered():
    load_catalogue()
    assert {fault.drill.code for fault in faults()} == {drill.code for drill in drills()}


def test_a_fault_is_found_by_its_code_or_is_not_here():
    load_catalogue()
    assert fault_by_code("STK").skill.code == "isolation"
    with pytest.raises(NotHere):
        fault_by_code("XYZ")
