"""Positions are drawn once, by the system; what is found there is refused when it cannot be."""

from collections import Counter
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db.models import QuerySet

from assessments.models import Inspection, Position, PracticeSet, RubricVersion
from assessments.scoring.sampling import SamplePlan, draw_positions
from assessments.services.sets import BenchEvent
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
from tests.factories.courses import plain_map

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
        plan = SamplePlan(ZONES, ("top", "bottom"), 5, 10, 2, 2, 1)
        kept = {**inspection.plan, **{key: tuple(inspection.plan[key]) for key in ("zones", "layers")}}
        assert (SamplePlan(**kept), inspection.seed) == (plan, SEED)
        names = ("index", "eye", "zone", "layer", "fan", "wants_gap", "wants_direction", "wants_length")
        expected = [tuple(getattr(each, name) for name in names) for each in draw_positions(plan, seed=SEED)]
        assert [tuple(getattr(each, name) for name in names) for each in positions_of(made)] == expected

    def test_one_fan_a_zone_is_drawn_at_the_same_place_on_both_eyes_and_measured(self, bench: Bench):
        places = {
            eye: [
                (each.zone, each.layer, each.fan)
                for each in positions_of(finished)
                if each.wants_length and each.eye == eye
            ]
            for finished in [finished_set(bench)]
            for eye in ("left", "right")
        }
        assert places["left"] == places["right"]
        assert [zone for zone, _, _ in places["left"]] == list(bench.brief.zones)

    def test_a_rubric_published_before_there_were_pairs_draws_as_before(self, bench: Bench):
        QuerySet(RubricVersion).update(pairs_per_zone=0)  # past the guard of what is published
        drawn = positions_of(finished_set(bench))
        expected = draw_positions(SamplePlan(ZONES, ("top", "bottom"), 5, 10, 2, 2), seed=SEED)
        assert [(each.zone, each.fan) for each in drawn] == [(each.zone, each.fan) for each in expected]
        assert not any(each.wants_length for each in drawn)

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
            ({"found_length_mm": 2.9}, "length_out_of_range"),
            ({"found_length_mm": 40}, "length_out_of_range"),
            ({"found_length_mm": -9}, "length_out_of_range"),
            ({"found_length_mm": 9.25}, "length_too_fine"),
            ({"found_length_mm": float("nan")}, "length_not_a_number"),
            ({"found_length_mm": "nine"}, "bad_length"),
            ({"found_length_mm": True}, "bad_length"),
            ({"finding": "bare", "found_length_mm": 9}, "bare_measured"),
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


class TestLengths:
    """Ada's brief plans one length a cell, so position 0 says by its layer what is planned there."""

    def planned(self, made: PracticeSet) -> int:
        first = positions_of(made)[0]
        return {"top": 9, "bottom": 8}[first.layer] if first.zone == "inner" else 0

    @pytest.mark.parametrize(
        ("off", "is_fault"), [(0, False), (0.9, False), (-0.9, False), (1, True), (-1, True), (2.5, True)]
    )
    def test_a_length_off_the_map_by_1_mm_or_more_is_itself_a_fault(self, bench: Bench, off, is_fault):
        made = finished_set(bench)
        found_mm = self.planned(made) + off
        _, position = look(bench, made, finding="clean", found_length_mm=found_mm)
        assert position.found_length_mm == Decimal(str(found_mm))
        assert position.finding == ("faulty" if is_fault else "clean")
        assert [fault.code for fault in position.faults.all()] == (["MAP"] if is_fault else [])

    def test_other_faults_stay_beside_it_and_map_is_counted_once(self, bench: Bench):
        made = finished_set(bench)
        off = self.planned(made) + 1
        _, position = look(bench, made, finding="faulty", faults=["STK", "MAP"], found_length_mm=off)
        assert sorted(fault.code for fault in position.faults.all()) == ["MAP", "STK"]
        _, position = look(bench, made, finding="faulty", faults=["STK"], found_length_mm=off)
        assert sorted(fault.code for fault in position.faults.all()) == ["MAP", "STK"]

    def test_an_educator_may_tick_it_without_a_measure(self, bench: Bench):
        _, position = look(bench, finished_set(bench), finding="faulty", faults=["MAP"])
        assert (position.found_length_mm, position.faults.get().code) == (None, "MAP")

    def test_a_length_measured_again_on_the_map_takes_the_fault_back(self, bench: Bench):
        made = finished_set(bench)
        look(bench, made, finding="clean", found_length_mm=self.planned(made) + 2)
        _, position = look(bench, made, finding="clean", found_length_mm=self.planned(made))
        assert (position.finding, position.faults.count()) == ("clean", 0)
        _, position = look(bench, made, finding="unseen", found_length_mm=40)
        assert (position.finding, position.found_length_mm) == ("unseen", None)


class TestMixedShapes:
    def test_a_fault_of_the_fan_shape_counts_only_where_the_map_plans_that_shape(self, cast: Cast):
        open_fans, closed = plain_map(), plain_map(fan_shape="closed", filaments=3, diameter_hundredths=7)
        top = {key: cell for key, cell in closed.cells.items() if key[2] == "top"}
        mixed = make_bench(cast, lash_map=replace(open_fans, cells={**open_fans.cells, **top}))
        made = finished_set(mixed)
        places = {position.layer: position.index for position in positions_of(made)}
        for layer, right, wrong in (("top", "OPN", "CLF"), ("bottom", "CLF", "OPN")):
            (yes,) = apply(mixed, made, [tick(places[layer], right)], now=NOW)
            (no,) = apply(mixed, made, [tick(places[layer], wrong)], now=NOW)
            assert yes.status == "applied"
            assert why(no).code == "unknown_fault"


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


def tick(index: int, code: str) -> BenchEvent:
    return event("position", NOW, index=index, finding="faulty", faults=[code])


def fans(made: PracticeSet) -> list[int]:
    return [position.fan for position in positions_of(made)]
