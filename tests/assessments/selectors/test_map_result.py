"""What was found beside what the map planned, place by place."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

from assessments.models import Inspection, Position, PracticeSet
from assessments.selectors.map_result import MapResult, map_result
from courses.mapping.lash_map import Cell, LengthShare
from courses.words import ZONES
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench
from tests.factories.bench import (
    BARE,
    event,
    faulty,
    finished_set,
    happens,
    inspected_set,
    make_bench,
    positions_of,
)
from tests.factories.courses import plain_map

NOW = STARTED + timedelta(hours=5)


def result_of(made) -> MapResult:
    return map_result(Inspection.objects.get(practice_set=made), made.brief)


def test_every_cell_of_both_eyes_has_its_place_and_its_fans(bench: Bench):
    result = result_of(inspected_set(bench))
    assert len(result.cells) == 2 * 4 * 2
    assert sum(cell.inspected for cell in result.cells) == 40
    assert result.cells[0].place == "left eye, inner, top layer"
    # The factory's brief: 9, 10, 11, 10 mm along the top, one less below.
    planned = [{fan.planned_mm for fan in cell.fans} for cell in result.of_eye("right")]
    assert planned == [{9}, {10}, {11}, {10}, {8}, {9}, {10}, {9}]
    assert (result.zones[1], result.layers[0], result.fans_per_cell) == ("inner-mid", "top layer", 10)


def test_a_length_off_the_map_is_counted_where_it_stands(bench: Bench):
    found = {0: {"found_length_mm": 12}, 1: faulty("STK"), 2: BARE}
    result = result_of(inspected_set(bench, found=found))
    (here,) = [cell for cell in result.cells if any(fan.label == "1" for fan in cell.fans)]
    (fan,) = [fan for fan in here.fans if fan.label == "1"]
    planned = {"top": 9, "bottom": 8}[here.layer]
    assert (fan.planned_mm, fan.found_mm, fan.off_mm) == (planned, Decimal(12), Decimal(12 - planned))
    assert (fan.is_off_map, fan.finding, fan.faults) == (True, "faulty", ("Wrong length for the zone",))
    assert (here.off_map, here.mean_off_mm) == (1, Fraction(12 - planned))
    assert here.found_words == f"12 mm for {planned} mm"
    assert here.planned_words == f"{planned} mm"
    assert (result.off_map, result.measured) == (1, 1)
    assert sum(cell.at_fault for cell in result.cells) == 2
    assert sum(cell.bare for cell in result.cells) == 1
    assert sum(cell.inspected for cell in result.cells) == 39


def test_pairs_are_compared_over_both_eyes(bench: Bench):
    pairs = [position for position in positions_of(finished_set(bench)) if position.wants_length]
    off = {position.index: 0.5 if position.eye == "left" else 0 for position in pairs}
    found = {
        index: {"found_length_mm": planned_mm(position) + off[index]} for index, position in by_index(pairs)
    }
    happens(bench, (made := PracticeSet.objects.get()), looks(made, found), now=NOW)
    result = result_of(made)
    assert (result.pairs, result.mean_pair_mm) == (4, Fraction(1, 2))  # one pair in each of four zones
    assert result.off_map == 0


def test_each_fan_of_a_mix_is_held_against_its_own_length(cast: Cast):
    plain = plain_map(layers=("top",), lengths={(zone, "top"): 8 for zone in ZONES})
    mix = (LengthShare(8, 75), LengthShare(12, 25))
    cells = {key: Cell(mix, cell.fan) for key, cell in plain.cells.items()}
    mixed = make_bench(cast, lash_map=replace(plain, cells=cells, textured=True))
    result = result_of(inspected_set(mixed))
    planned = [fan.planned_mm for cell in result.cells for fan in cell.fans]
    assert set(planned) == {8, 12} and planned.count(12) < planned.count(8)


def test_a_result_costs_two_queries(bench: Bench, django_assert_num_queries):
    made = inspected_set(bench, found={number: faulty("STK") for number in range(40)})
    inspection = Inspection.objects.get(practice_set=made)
    with django_assert_num_queries(2):
        map_result(inspection, bench.brief)


def planned_mm(position: Position) -> int:
    """The factory's brief: 9, 10, 11, 10 mm along the top, one less below."""
    return (9, 10, 11, 10)[ZONES.index(position.zone)] - (position.layer == "bottom")


def by_index(positions):
    return [(position.index, position) for position in positions]


def looks(made: PracticeSet, found):
    return [event("position", NOW, index=index, finding="clean", **more) for index, more in found.items()]
