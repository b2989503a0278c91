"""What the marks rest on: faults ticked at the bench, read by the bands of the starter rubric.

Bands are those that the rubric's own level descriptions state in words; its thresholds are the house's
proposal: common practice, no source.
"""

from datetime import timedelta

import pytest
from statsmodels.stats.proportion import proportion_confint  # type: ignore[import-untyped]

from academy.errors import NotHere
from assessments.scoring.entry import MarkEntry
from assessments.selectors import marking as selectors
from assessments.selectors.sets import practice_set
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
    open_ready_set,
    positions_of,
)


def marking_of(made, entry: MarkEntry | None = None):
    return selectors.marking(made, selectors.inspection_of(made), entry or MarkEntry())


def proposal(made, code: str, entry: MarkEntry | None = None):
    return marking_of(made, entry).proposals[code]


@pytest.mark.parametrize(
    ("code", "fault", "count", "level"),
    [
        ("isolation", "STK", 0, 4),  # "None stuck"
        ("isolation", "STK", 1, 3),  # "One of 40 stuck"
        ("isolation", "STK", 2, 2),  # "Two of 40 stuck"
        ("isolation", "STK", 3, 1),  # "Three to six of 40 stuck"
        ("isolation", "STK", 6, 1),
        ("isolation", "STK", 7, 0),  # "Seven or more of 40 stuck"
        ("closure", "CLF", 1, 4),  # "At most one of 40 misshapen"
        ("closure", "CLF", 4, 3),  # "Two to four of 40 misshapen"
        ("closure", "CLF", 8, 2),  # "Five to eight of 40 misshapen"
        ("closure", "CLF", 9, 1),  # "Nine to sixteen of 40 misshapen"
        ("closure", "CLF", 17, 0),  # "Seventeen or more of 40 misshapen"
        ("placement", "TCH", 1, 0),  # "Any fan touches skin"
    ],
)
def test_faults_ticked_at_the_bench_reach_the_level_the_rubric_describes(
    bench: Bench, code, fault, count, level
):
    made = inspected_set(bench, found={index: faulty(fault) for index in range(count)})
    assert proposal(made, code).level == level


def test_a_proposal_shows_its_count_and_the_interval_of_a_statistics_library(bench: Bench):
    made = inspected_set(bench, found={0: faulty("STK"), 39: faulty("DBL")})
    found = proposal(made, "isolation")
    low, high = proportion_confint(2, 40, alpha=0.10, method="wilson")
    assert (found.faults, found.inspected, found.rate) == (2, 40, 2 / 40)
    assert (found.low, found.high) == (pytest.approx(low), pytest.approx(high))
    assert found.words == f"2 stuck of 40: 5 %, 90 % interval {100 * low:.1f}–{100 * high:.1f} %, band 2."


def test_a_fan_with_two_faults_of_one_criterion_counts_once(bench: Bench):
    made = inspected_set(bench, found={5: faulty("STK", "DBL")})
    assert (proposal(made, "isolation").faults, proposal(made, "isolation").level) == (1, 3)


def test_a_bare_lash_costs_coverage_and_is_no_inspected_fan(bench: Bench):
    made = inspected_set(bench, found={0: BARE, 1: BARE, 2: BARE})
    coverage, isolation = proposal(made, "coverage"), proposal(made, "isolation")
    # 37 of 40 covered is 92.5 %: "80 % or more covered".
    assert (coverage.level, coverage.value) == (3, pytest.approx(92.5))
    assert isolation.inspected == 37


def test_paired_lengths_speak_beside_the_counts(bench: Bench):
    made = finished_set(bench)
    pairs = [position for position in positions_of(made) if position.wants_length]
    found = {each.index: each.planned_mm(bench.brief.lash_map) + (each.eye == "left") * 0.7 for each in pairs}
    now = STARTED + timedelta(hours=5)
    looks = [event("position", now, index=index, finding="clean", found_length_mm=length)
             for index, length in found.items()]  # fmt: skip
    happens(bench, made, looks, now=now)
    symmetry = marking_of(made, MarkEntry(left_count=80, right_count=80)).proposals["symmetry"]
    assert symmetry.level == 3
    assert symmetry.words == (
        "80 fans left, 80 right: 0 % apart, band 4. "
        "4 pairs 0.7 mm apart in length on average, band 3. The lower rules: band 3."
    )


def test_positions_not_looked_at_are_no_evidence(bench: Bench):
    made = finished_set(bench)
    found = marking_of(made)
    assert selectors.findings(selectors.inspection_of(made).positions.all(), bench.brief.lash_map) == ()
    assert found.proposals["isolation"].level is None
    assert "Inspect the drawn positions" in found.proposals["isolation"].words
    assert not found.result.gates_passed


@pytest.mark.parametrize(
    ("missed", "level"),
    [
        ((), 4),  # "Every line met"
        (("hands",), 3),  # "One other line missed"
        (("hands", "waste"), 2),  # "Two other lines missed"
        (("hands", "waste", "surface"), 1),  # "Three or more other lines missed"
        (("tweezers",), 0),  # "A critical line missed"
    ],
)
def test_hygiene_lines_missed_reach_the_level_the_rubric_describes(bench: Bench, missed, level):
    made = finished_set(bench)
    assert proposal(made, "hygiene", MarkEntry(lines_missed=missed)).level == level


def test_hygiene_not_looked_at_has_no_level(bench: Bench):
    found = proposal(finished_set(bench), "hygiene")
    assert (found.level, found.status) == (None, "not_enough")


@pytest.mark.parametrize(
    ("left", "right", "level"),
    [
        (80, 80, 4),
        (80, 76, 4),  # 4 of 80 is 5 %: "Counts up to 5 % apart"
        (80, 73, 3),  # 7 of 80 is 8.75 %: "Up to 9 % apart"
        (65, 80, 2),  # 15 of 80 is 18.75 %: "Up to 19 % apart"
        (64, 80, 1),  # 16 of 80 is 20 %: "more than 19 % apart"
        (80, None, None),
        (0, 0, None),
    ],
)
def test_left_and_right_counts_reach_the_level_the_rubric_describes(bench: Bench, left, right, level):
    entry = MarkEntry(left_count=left, right_count=right)
    assert proposal(finished_set(bench), "symmetry", entry).level == level


def test_time_gives_no_credit_while_isolation_is_under_two(bench: Bench):
    made = inspected_set(bench, found={index: faulty("STK") for index in range(3)})
    assert not marking_of(made).result.time_credit
    entry = MarkEntry(levels={"isolation": 2}, reasons={"isolation": "lint, not adhesive"})
    assert marking_of(made, entry).result.time_credit


def test_criteria_come_with_gates_first_and_then_in_the_order_of_the_rubric(
    bench: Bench, django_assert_num_queries
):
    rubric = open_ready_set(bench).rubric
    with django_assert_num_queries(2):
        rows = selectors.criteria_of(rubric)
        assert all(row.skill.code and len(row.descriptors.all()) == 5 for row in rows)
    gates = [row.is_gate for row in rows]
    assert gates == sorted(gates, reverse=True) and any(gates)
    others = [row.order for row in rows if not row.is_gate]
    assert others == sorted(others)


def test_drills_are_proposed_for_the_worst_faults_gates_first_with_the_count(bench: Bench):
    found = {0: faulty("STK"), **{index: faulty("POP") for index in range(1, 7)}}
    choices = selectors.drill_choices(marking_of(inspected_set(bench, found=found)).rates)
    assert [(choice.drill.code, choice.why) for choice in choices[:2]] == [
        ("hold-and-check", "Sticky: 1 of 40"),
        ("dip-to-seat", "Comes off at the brush: 6 of 40"),
    ]
    assert {choice.why for choice in choices[2:]} == {""}
    codes = [choice.drill.code for choice in choices]
    assert len(codes) == len(set(codes))


def test_only_faults_of_the_briefs_fan_shape_are_offered(bench: Bench, cast: Cast):
    closed = make_bench(
        cast, cast.bea, head="Head 2", fan_shape="closed", opening_min_deg=None, opening_max_deg=None
    )
    on_open = [fault.code for fault in selectors.offered_faults(open_ready_set(bench))]
    on_closed = [fault.code for fault in selectors.offered_faults(open_ready_set(closed))]
    # A closed fan is wrong where the brief asks for an open one, and the other way round: trade fact.
    assert "CLF" in on_open and "OPN" not in on_open
    assert "OPN" in on_closed and "CLF" not in on_closed
    assert {"HYG", "SYM"}.isdisjoint(on_open), "those belong to the whole set, not to a fan"


def test_offered_faults_have_gate_skills_first(bench: Bench):
    gates = [fault.skill.is_gate for fault in selectors.offered_faults(open_ready_set(bench))]
    assert gates == sorted(gates, reverse=True)


def test_before_the_finish_there_is_no_inspection(bench: Bench):
    made = open_ready_set(bench)
    assert selectors.first_inspection(made) is None
    with pytest.raises(NotHere):
        selectors.inspection_of(made)


def test_gathering_and_proposing_costs_the_same_for_few_findings_and_many(
    bench: Bench, cast: Cast, django_assert_num_queries
):
    few = inspected_set(bench)
    other = make_bench(cast, cast.bea, head="Head 2")
    many = inspected_set(other, found={index: faulty("STK", "POP") for index in range(40)})
    for uid in (few.uid, many.uid):
        made = practice_set(cast.academy, uid)
        with django_assert_num_queries(6):
            marking_of(made)
