"""The catalogue comes from the fixtures, and loading it again changes nothing."""

import json
import re

import pytest

from courses.models import Drill, FanShape, Fault, Skill
from courses.services.catalogue import CATALOGUE, load_catalogue

pytestmark = pytest.mark.django_db

# Common practice, no source: the terms under which educators tick what they find.
TICKED_FAN_BY_FAN = {
    *("STK", "BBY", "DBL", "LYR", "TCH", "GAP", "HVY", "CRL", "CLF", "OPN", "ASY", "CNT"),
    *("CRS", "LNG", "NOW", "TWS", "DIR", "MAP", "MIS", "BED", "DRY", "DRT", "POP"),
}
JUDGED_ON_THE_SET = {"STP", "SYM", "HYG"}
GATES = {"isolation", "placement", "product", "hygiene"}


def everything():
    return [list(model.objects.order_by("pk").values()) for model in (Skill, Drill, Fault)]


def test_loading_twice_leaves_every_row_as_it_was():
    load_catalogue()
    first = everything()
    load_catalogue()
    assert everything() == first
    assert sum(len(rows) for rows in first) == 14 + 26 + 26


def test_loading_again_brings_a_changed_row_back_and_keeps_its_key():
    load_catalogue()
    fault = Fault.objects.get(code="STK")
    Fault.objects.filter(pk=fault.pk).update(meaning="something else", skill=Skill.objects.get(code="time"))
    load_catalogue()
    again = Fault.objects.get(code="STK")
    assert (again.pk, again.meaning, again.skill_id) == (fault.pk, fault.meaning, fault.skill_id)


def test_a_code_that_left_the_fixtures_stays():
    load_catalogue()
    Skill.objects.create(code="old-skill", name="Old skill", meaning="Judged in an earlier year.")
    load_catalogue()
    assert Skill.objects.filter(code="old-skill").exists()


def test_loading_costs_six_queries_whatever_is_there(django_assert_num_queries):
    load_catalogue()
    with django_assert_num_queries(6 + 2):  # and the two of the transaction's savepoint
        load_catalogue()


def test_every_row_keeps_the_rules_of_its_model():
    load_catalogue()
    for model in (Skill, Drill, Fault):
        for row in model.objects.all():
            row.full_clean(exclude={"fan_shapes"})  # empty means: on every shape


def test_which_faults_are_ticked_at_the_bench():
    load_catalogue()
    at_bench = dict(Fault.objects.values_list("code", "at_bench"))
    assert {code for code, ticked in at_bench.items() if ticked} == TICKED_FAN_BY_FAN
    assert {code for code, ticked in at_bench.items() if not ticked} == JUDGED_ON_THE_SET


def test_closure_is_judged_by_the_shape_the_brief_asks_for():
    load_catalogue()
    shapes = {
        code: {shape for shape in FanShape.values if Fault.objects.get(code=code).counts_on(shape)}
        for code in ("CLF", "ASY", "OPN", "STK")
    }
    assert shapes["CLF"] == shapes["ASY"] == {"open"}
    assert shapes["OPN"] == {"closed", "spike"}
    assert shapes["STK"] == {"open", "closed", "spike"}


def test_gate_skills_protect_the_eye_and_only_time_is_speed():
    load_catalogue()
    assert set(Skill.objects.filter(is_gate=True).values_list("code", flat=True)) == GATES
    assert list(Skill.objects.filter(is_speed=True).values_list("code", flat=True)) == ["time"]


def test_every_drill_answers_one_fault_in_two_to_four_sentences_and_ends_on_a_count():
    load_catalogue()
    for drill in Drill.objects.prefetch_related("faults"):
        assert len(drill.faults.all()) == 1, drill.code
        assert 2 <= len(re.findall(r"[.?](?:\s|$)", drill.steps)) <= 4, drill.code
        assert drill.count_target > 0
        assert drill.counted


def test_only_a_bare_lash_has_no_fan():
    load_catalogue()
    assert list(Fault.objects.filter(is_bare_lash=True).values_list("code", flat=True)) == ["MIS"]


@pytest.mark.parametrize("name", ["skills", "drills", "faults"])
def test_no_code_comes_twice(name):
    codes = [row["code"] for row in json.loads((CATALOGUE / f"{name}.json").read_text())]
    assert sorted(codes) == sorted(set(codes))


def test_the_steps_of_a_drill_leave_the_count_to_whoever_sets_it():
    """The educator may ask for more or fewer; steps that name the usual count would contradict her."""
    drills = json.loads((CATALOGUE / "drills.json").read_text())
    assert [d["code"] for d in drills if re.search(rf"\b{d['count_target']}\b", d["steps"])] == []
