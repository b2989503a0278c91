"""The set document: one picture of a set for every screen of the bench, in the words of the contract."""

from dataclasses import replace
from datetime import timedelta

from assessments.api.document import set_document
from assessments.models import PracticeSet
from assessments.scoring.entry import MarkEntry
from assessments.selectors.sets import practice_set
from assessments.services.marking import save_draft
from courses.mapping.map_json import write_map
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench
from tests.factories.bench import (
    BARE,
    event,
    faulty,
    finished_set,
    graded_set,
    happens,
    inspected_set,
    make_bench,
    open_ready_set,
    working_set,
)
from tests.factories.courses import plain_map

NOW = STARTED + timedelta(hours=8)


def document(made: PracticeSet, now=NOW):
    return set_document(practice_set(made.academy, made.uid), now=now)


def test_a_ready_set_says_who_what_and_on_which_head(bench: Bench):
    made = open_ready_set(bench)
    found = document(made)
    assert (found["uid"], found["number"], found["state"]) == (str(made.uid), 1, "ready")
    assert (found["target_s"], found["server_now"]) == (300 * 60, "2026-02-02T17:00:00Z")
    assert found["student"] == {"id": bench.student.pk, "name": "Ada Marsh"}
    assert found["head"] == {"name": "Head 1"}
    assert found["brief"] == {
        "name": "Soft volume",
        "version": 1,
        "style": "volume",
        "fan_shape": "open",
        "fan_shapes": ["open"],
        "map": write_map(plain_map()),
        "zones": ["inner", "inner_mid", "outer_mid", "outer"],
        "layers": ["top", "bottom"],
    }
    assert found["clock"] == {
        "worked_s": 0.0,
        "paused_s": 0.0,
        "running_since": None,
        "started_at": None,
        "finished_at": None,
        "splits": [],
    }
    assert found["inspection"] is None
    assert {"draft", "proposals", "verdict", "drills"}.isdisjoint(found)


def test_a_running_clock_says_since_when(bench: Bench):
    made = working_set(bench)
    steps = [event("pause", STARTED + timedelta(minutes=30)), event("resume", STARTED + timedelta(hours=1))]
    happens(bench, made, steps, now=STARTED + timedelta(hours=1))
    clock = document(made, STARTED + timedelta(hours=2))["clock"]
    assert (clock["worked_s"], clock["paused_s"]) == (90 * 60, 30 * 60)
    assert (clock["started_at"], clock["running_since"]) == ("2026-02-02T09:00:00Z", "2026-02-02T10:00:00Z")


def test_a_finished_set_shows_its_forty_positions_unseen_with_the_length_of_the_map(bench: Bench):
    inspection = document(finished_set(bench))["inspection"]
    assert (inspection["closed"], inspection["fans_per_cell"], len(inspection["positions"])) == (
        False,
        10,
        40,
    )
    assert set(inspection["positions"][0]) == {
        *("index", "eye", "zone", "layer", "fan", "length_mm", "wants_gap", "wants_direction"),
        *("fan_shape", "wants_length", "finding", "faults", "gap_mm", "direction_deg", "found_length_mm"),
    }
    # The brief of the factory: 9, 10, 11, 10 mm from the inner corner, one less on the bottom layer.
    top = dict(zip(("inner", "inner_mid", "outer_mid", "outer"), (9, 10, 11, 10), strict=True))
    for position in inspection["positions"]:
        assert position["length_mm"] == top[position["zone"]] - (position["layer"] == "bottom")
        assert (position["finding"], position["faults"], position["gap_mm"]) == ("unseen", [], None)


def test_an_inspected_set_shows_what_was_found(bench: Bench):
    made = inspected_set(bench, found={0: {**faulty("STK", "BED"), "gap_mm": 1.25}, 1: BARE})
    inspection = document(made)["inspection"]
    first, second = inspection["positions"][:2]
    assert inspection["closed"] is True
    assert (first["finding"], sorted(first["faults"]), first["gap_mm"]) == ("faulty", ["BED", "STK"], 1.25)
    assert (second["finding"], second["faults"], second["gap_mm"]) == ("bare", [], None)


def test_a_length_found_off_the_map_comes_back_as_a_fault(bench: Bench):
    inspection = document(inspected_set(bench, found={0: {"found_length_mm": 14.5}}))["inspection"]
    first, second = inspection["positions"][:2]
    assert (first["found_length_mm"], first["finding"], first["faults"]) == (14.5, "faulty", ["MAP"])
    assert (second["found_length_mm"], second["finding"]) == (None, "clean")
    wanted = [each for each in inspection["positions"] if each["wants_length"]]
    assert len(wanted) == 8, "one pair in each of four zones, on two eyes"


def test_on_a_map_of_two_shapes_every_position_says_its_own_and_every_fault_its_shapes(cast: Cast):
    closed = plain_map(fan_shape="closed", filaments=3, diameter_hundredths=7)
    top = {key: cell for key, cell in closed.cells.items() if key[2] == "top"}
    mixed = make_bench(cast, lash_map=replace(closed, cells={**plain_map().cells, **top}))
    found = document(finished_set(mixed))
    assert sorted(found["brief"]["fan_shapes"]) == ["closed", "open"]
    shapes = {fault["code"]: fault["fan_shapes"] for fault in found["faults"]}
    assert (shapes["CLF"], shapes["OPN"], shapes["STK"]) == (["open"], ["closed", "spike"], [])
    said = {(each["layer"], each["fan_shape"]) for each in found["inspection"]["positions"]}
    assert said == {("top", "closed"), ("bottom", "open")}


def test_faults_offered_have_gates_first_and_name_the_bare_lash(bench: Bench):
    faults = document(open_ready_set(bench))["faults"]
    assert faults[0] == {
        "code": "STK", "name": "Sticky", "skill": "isolation", "is_gate": True, "is_bare_lash": False,
        "fan_shapes": [],
    }  # fmt: skip
    gates = [fault["is_gate"] for fault in faults]
    assert gates == sorted(gates, reverse=True)
    assert [fault["code"] for fault in faults if fault["is_bare_lash"]] == ["MIS"]


def test_every_proposal_carries_its_words_and_its_five_levels(bench: Bench):
    proposals = document(inspected_set(bench))["proposals"]
    for proposal in proposals:
        assert set(proposal) == {
            *("code", "name", "skill", "kind", "is_gate", "level", "words", "status", "cap", "descriptors")
        }
        assert len(proposal["descriptors"]) == 5 and proposal["words"].endswith(".")
        assert proposal["status"] in {"proposed", "not_enough", "judged"}
        assert (proposal["level"] is None) == (proposal["status"] != "proposed")
    gates = [proposal["is_gate"] for proposal in proposals]
    assert gates == sorted(gates, reverse=True) and gates[0]


def test_without_a_draft_the_draft_is_empty_and_with_one_it_says_whose(bench: Bench):
    made = inspected_set(bench)
    assert document(made)["draft"] == {"data": {}, "saved_at": None, "saved_by": None}
    entry = MarkEntry(lines_missed=("tweezers",), note="<script>")
    save_draft(actor=bench.educator, uid=made.uid, entry=entry, base=None, now=NOW)
    found = document(made)
    assert (found["draft"]["saved_at"], found["draft"]["saved_by"]) == (
        "2026-02-02T17:00:00Z",
        "Ines Carvalho",
    )
    assert found["draft"]["data"]["lines_missed"] == ["tweezers"]
    hygiene = next(proposal for proposal in found["proposals"] if proposal["code"] == "hygiene")
    assert hygiene["level"] == 0


def test_the_verdict_names_every_gate_and_what_is_missing(bench: Bench):
    verdict = document(inspected_set(bench))["verdict"]
    assert {gate["code"] for gate in verdict["gates"]} == {"isolation", "placement", "hygiene", "product"}
    assert set(verdict["gates"][0]) == {"code", "name", "level", "needed", "passed", "words"}
    assert verdict["gates_passed"] is False and verdict["time_credit"] is True
    assert any("Hygiene and set-up: no level yet" in words for words in verdict["words"])


def test_a_graded_set_still_has_its_document(bench: Bench):
    made = graded_set(bench).practice_set
    found = document(made)
    assert (found["state"], found["draft"]["data"], found["inspection"]["closed"]) == ("graded", {}, True)


def test_an_abandoned_set_offers_no_marks(bench: Bench):
    made = finished_set(bench)
    happens(bench, made, [event("abandon", NOW, reason="head fell")], now=NOW)
    found = document(made)
    assert found["state"] == "abandoned"
    assert "proposals" not in found


def test_the_document_costs_as_many_queries_for_few_findings_as_for_many(
    bench: Bench, cast: Cast, django_assert_num_queries
):
    few = inspected_set(bench)
    other = make_bench(cast, cast.bea, head="Head 2")
    many = inspected_set(other, found={number: faulty("STK", "POP", "DIR") for number in range(40)})
    for made in (few, many):
        found = practice_set(cast.academy, made.uid)
        with django_assert_num_queries(10):
            set_document(found, now=NOW)
