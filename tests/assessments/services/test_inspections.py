"""Positions are drawn once, by the system; what is found there is refused when it cannot be."""

from collections import Counter
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from assessments.models import Inspection, Position, PracticeSet
from assessments.scoring.sampling import SamplePlan, draw_positions
from courses.words import ZONES
from tests.factories.academy import Cast
from tests.factories.assessments import SEED, STARTED, Bench
from tests.factories.bench import (
    BARE,
    apply,
    clean,
    event,
    finished_set,
    happens,
    inspected_set,
    make_bench,
    positions_of,
    why,
    working_set,
)

NOW = STARTED + timedelta(hours=5)


def look(bench: Bench, made: PracticeSet, index: object = 0, **found: Any):
    """The result of one finding and the position as it stands afterwards."""
    (result,) = apply(bench, made, [event("position", NOW, index=index, **found)], now=NOW)
    return result, Position.objects.filter(inspection__practice_set=made, index=0).get()


class TestDraw:
    def test_finishing_draws_forty_positions_five_a_zone_an_eye(self, bench: Bench):
        made = finished_set(bench)
        drawn = positions_of(made)
        assert [position.index for position in drawn] == list(range(40))
        cells = Counter((position.eye, position.zone) for position in drawn)
        assert set(cells) == {(eye, zone) for eye in ("left", "right") for zone in bench.brief.zones}
        assert set(cells.values()) == {5}

    def test_layers_take_turns_within_a_zone(self, bench: Bench):
        cells = Counter((each.eye, each.zone, each.layer) for each in positions_of(finished_set(bench)))
        assert set(cells.values()) <= {2, 3}, "five fans over two layers"

    def test_the_rubric_says_how_many_are_measured(self, bench: Bench):
        drawn = positions_of(finished_set(bench))
        for wanted in ("wants_gap", "wants_direction"):
            zones = Counter((each.eye, each.zone) for each in drawn if getattr(each, wanted))
            assert set(zones.values()) == {2} and len(zones) == 8

    def test_the_draw_is_the_published_one_for_the_kept_plan_and_seed(self, bench: Bench):
        made = finished_set(bench)
        inspection = Inspection.objects.get(practice_set=made)
        # Ten fans a cell: 80 lashes an eye, all covered, over four zones and two layers.
        plan = SamplePlan(ZONES, ("top", "bottom"), 5, 10, 2, 2)
        kept = {**inspection.plan, **{key: tuple(inspection.plan[key]) for key in ("zones", "layers")}}
        assert (SamplePlan(**kept), inspection.seed) == (plan, SEED)
        names = ("index", "eye", "zone", "layer", "fan", "wants_gap", "wants_direction")
        expected = [tuple(getattr(each, name) for name in names) for each in draw_positions(plan, seed=SEED)]
        assert [tuple(getattr(each, name) for name in names) for each in positions_of(made)] == expected

    def test_another_seed_draws_other_fans(self, bench: Bench, cast: Cast):
        first = fans(finished_set(bench))
        made = working_set(make_bench(cast, cast.bea, head="Head 2"))
        apply(bench, made, [event("finish", NOW)], now=NOW, seed=SEED + 1)
        assert fans(made) != first

    def test_nothing_is_drawn_before_the_finish(self, bench: Bench):
        made = working_set(bench)
        assert positions_of(made) == []
        result, *_ = apply(bench, made, [event("position", STARTED, index=0, finding="clean")], now=STARTED)
        assert why(result).code == "not_inspecting"

    def test_a_sparse_brief_is_sampled_within_the_fans_it_has(self, cast: Cast):
        # 20 lashes, one in ten covered: 2 fans an eye over 4 zones and 1 layer, so one fan a zone.
        sparse = make_bench(
            cast,
            lashes_per_eye=20,
            coverage_percent=10,
            layers=("top",),
            lengths=dict.fromkeys([(zone, "top") for zone in ZONES], 9),
        )
        drawn = positions_of(finished_set(sparse))
        assert len(drawn) == 8
        assert {position.fan for position in drawn} == {1}


class TestFindings:
    def test_a_faulty_fan_keeps_its_faults_and_its_measures(self, bench: Bench):
        made = finished_set(bench)
        result, position = look(
            bench, made, finding="faulty", faults=["STK", "BED"], gap_mm=0.75, direction_deg=12.4
        )
        assert result.status == "applied"
        assert {fault.code for fault in position.faults.all()} == {"STK", "BED"}
        assert (position.finding, position.gap_mm, position.direction_deg) == ("faulty", Decimal("0.75"), 12)
        assert position.seen_at == NOW

    def test_a_second_look_replaces_the_first_and_undo_takes_it_back(self, bench: Bench):
        made = finished_set(bench)
        look(bench, made, finding="faulty", faults=["STK"], gap_mm=0.7)
        _, position = look(bench, made, finding="clean")
        assert (position.finding, position.gap_mm, position.faults.count()) == ("clean", None, 0)
        look(bench, made, finding="faulty", faults=["STK"])
        _, position = look(bench, made, finding="unseen", gap_mm=0.7)
        assert (position.finding, position.gap_mm, position.seen_at) == ("unseen", None, None)
        assert position.faults.count() == 0

    def test_a_bare_lash_has_neither_fault_nor_measure(self, bench: Bench):
        made = finished_set(bench)
        assert look(bench, made, **BARE)[1].finding == "bare"
        for more, code in (({"gap_mm": 0.5}, "bare_measured"), ({"faults": ["STK"]}, "faults_and_finding")):
            result, _ = look(bench, made, **{**BARE, **more})
            assert why(result).code == code

    @pytest.mark.parametrize(
        ("found", "code"),
        [
            ({"gap_mm": -0.5}, "negative_gap"),
            ({"gap_mm": -0.001}, "negative_gap"),
            ({"gap_mm": 25}, "gap_too_wide"),
            ({"gap_mm": 20.004}, "gap_too_wide"),
            ({"gap_mm": 1e30}, "gap_too_wide"),
            ({"gap_mm": float("nan")}, "gap_not_a_number"),
            ({"gap_mm": float("inf")}, "gap_not_a_number"),
            ({"gap_mm": 10**400}, "bad_gap"),
            ({"gap_mm": "wide"}, "bad_gap"),
            ({"gap_mm": True}, "bad_gap"),
            ({"gap_mm": [0.5]}, "bad_gap"),
            ({"direction_deg": 200}, "direction_out_of_range"),
            ({"direction_deg": 180.4}, "direction_out_of_range"),
            ({"direction_deg": -0.4}, "direction_out_of_range"),
            ({"direction_deg": float("nan")}, "direction_out_of_range"),
            ({"direction_deg": float("inf")}, "direction_out_of_range"),
            ({"direction_deg": "left"}, "bad_direction"),
            ({"finding": "lovely"}, "bad_finding"),
            ({"finding": None}, "bad_finding"),
            ({"finding": ["clean"]}, "bad_finding"),
            ({"finding": "faulty"}, "faults_and_finding"),
            ({"faults": ["STK"]}, "faults_and_finding"),
            ({"finding": "faulty", "faults": ["XXX"]}, "unknown_fault"),
            ({"finding": "faulty", "faults": ["STK", "OPN"]}, "unknown_fault"),
            ({"finding": "faulty", "faults": ["MIS"]}, "unknown_fault"),
            ({"finding": "faulty", "faults": ["HYG"]}, "unknown_fault"),
            ({"finding": "faulty", "faults": [{"code": "STK"}]}, "bad_faults"),
            ({"finding": "faulty", "faults": "STK"}, "bad_faults"),
        ],
    )
    def test_what_cannot_be_is_refused_and_the_position_stays_as_it_was(self, bench: Bench, found, code):
        made = finished_set(bench)
        look(bench, made, finding="faulty", faults=["POP"], gap_mm=0.6)
        result, position = look(bench, made, **{"finding": "clean", **found})
        assert (result.status, why(result).code) == ("refused", code)
        assert why(result).message.endswith(".")
        assert [fault.code for fault in position.faults.all()] == ["POP"]
        assert (position.finding, position.gap_mm) == ("faulty", Decimal("0.60"))

    @pytest.mark.parametrize("index", [40, -1, 10**30, None, "0", True, 1.5])
    def test_a_position_that_was_not_drawn_is_refused(self, bench: Bench, index):
        result, position = look(bench, finished_set(bench), index, finding="clean")
        assert (why(result).code, position.finding) == ("no_position", "unseen")

    def test_a_narrow_fan_is_no_fault_where_the_brief_asks_for_closed_fans(self, cast: Cast):
        closed = make_bench(cast, fan_shape="closed", opening_min_deg=None, opening_max_deg=None)
        made = finished_set(closed)
        result, _ = look(closed, made, finding="faulty", faults=["CLF"])
        assert (why(result).code, "CLF is not a fault on this brief" in why(result).message) == (
            "unknown_fault",
            True,
        )
        assert look(closed, made, finding="faulty", faults=["OPN"])[0].status == "applied"

    def test_a_refused_measure_names_the_place_in_the_words_of_the_map(self, bench: Bench):
        made = finished_set(bench)
        place = next(each for each in positions_of(made) if each.zone == "inner_mid")
        result, _ = look(bench, made, place.index, finding="clean", gap_mm=25)
        assert f"{place.eye} eye, inner-mid, layer {place.layer} is 25 mm" in why(result).message


class TestClosing:
    def test_the_inspection_cannot_be_closed_over_positions_nobody_looked_at(self, bench: Bench):
        made = finished_set(bench)
        looks = [event("position", NOW, **clean(each)) for each in positions_of(made)[:-1]]
        happens(bench, made, looks, now=NOW)
        (no,) = apply(bench, made, [event("inspect", NOW)], now=NOW)
        assert (why(no).code, made.state) == ("positions_left", "finished")
        assert "Not looked at yet: 1 of 40 positions" in why(no).message
        assert Inspection.objects.get().closed_at is None

    def test_closing_keeps_who_looked_and_when(self, bench: Bench):
        inspected_set(bench)
        inspection = Inspection.objects.get()
        assert inspection.inspector == bench.educator
        assert inspection.closed_at is not None and inspection.closed_at > inspection.opened_at

    def test_after_closing_no_finding_changes(self, bench: Bench):
        made = inspected_set(bench)
        result, position = look(bench, made, finding="faulty", faults=["STK"])
        assert (why(result).code, position.finding) == ("not_inspecting", "clean")


def fans(made: PracticeSet) -> list[int]:
    return [position.fan for position in positions_of(made)]
