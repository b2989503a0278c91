"""From evidence to a proposed level and its sentence.

The bands of the fourteen criteria are common practice in part and otherwise our own proposal; no standard
states them. These tests check that rule data is read as its table says, not that the bands are right.
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.evidence import Evidence, PositionFinding, ScoringInputError
from assessments.scoring.proposals import propose
from assessments.scoring.rules import parse_rule


def counted(faults, at_most, **more):
    return parse_rule("counted", {"faults": faults, "per": 40, "at_most": at_most, **more})


ISOLATION = counted(["STK", "BBY", "DBL", "LYR"], [0, 1, 2, 6], noun="stuck")
OPENING = counted(["CLF", "ASY", "CRS"], [1, 4, 8, 16], noun="closed or uneven")
WRAP = counted(["LNG", "NOW", "TWS"], [1, 3, 6, 12], noun="with a poor base")
LENGTH_MAP = counted(["MAP"], [1, 4, 8, 40], noun="off the map")
ADHESIVE = counted(["BED", "DRY"], [1, 3, 6, 12], floor_faults=["TCH"], floor_noun="with adhesive on skin")
ATTACHMENT = counted(["POP"], [1, 3, 6, 12], noun="lost")
GAP = parse_rule(
    "window",
    {
        "inside_mm": [0.5, 1.0],
        "outer_mm": [0.3, 1.5],
        "share_at_least": [0.90, 0.75, 0.50],
        "outer_share_at_most": 0.20,
        "floor_faults": ["TCH"],
    },
)
DIRECTION = parse_rule(
    "deviation",
    {"mean_at_most": [5, 10, 20], "cross_deg": 45, "cross_share_at_most": 0.20, "faults": ["DIR"]},
)
COVERAGE = parse_rule("covered", {"share_at_least": [0.95, 0.80, 0.60, 0.40]})
SYMMETRY = parse_rule("difference", {"percent_at_most": [5, 9, 19], "unit": "fans"})
TIME = parse_rule("timed", {"percent_at_most": [100, 125, 150, 200]})
HYGIENE = parse_rule("lines", {"minor_at_most": [0, 1, 2], "critical": ["eye_cover", "single_use"]})
LAYERS = parse_rule("judged", {})
FIT = parse_rule("judged", {"caps": {"HVY": 1}})
RULES = (ISOLATION, OPENING, ADHESIVE, GAP, DIRECTION, COVERAGE, SYMMETRY, TIME, HYGIENE, LAYERS, FIT)


def finding(*faults, **more):
    return PositionFinding("left", "inner", "1", frozenset(faults), **more)


def ticked(code, faulty, of=40):
    return Evidence(tuple(finding(code) if i < faulty else finding() for i in range(of)))


def gaps(*measured):
    return Evidence(tuple(finding(gap_mm=gap) for gap in measured))


def directions(*measured):
    return Evidence(tuple(finding(direction_deg=degrees) for degrees in measured))


# Levels 0..4 of each row, as (evidence at the edge of a band, expected level); our own proposal, no standard.
COUNTED_ROWS = [
    (ISOLATION, "STK", {0: 4, 1: 3, 2: 2, 3: 1, 6: 1, 7: 0, 40: 0}),
    (OPENING, "CLF", {0: 4, 1: 4, 2: 3, 4: 3, 5: 2, 8: 2, 9: 1, 16: 1, 17: 0}),
    (WRAP, "NOW", {0: 4, 1: 4, 2: 3, 3: 3, 4: 2, 6: 2, 7: 1, 12: 1, 13: 0}),
    (LENGTH_MAP, "MAP", {0: 4, 1: 4, 2: 3, 4: 3, 5: 2, 8: 2, 9: 1, 40: 1}),
    (ADHESIVE, "BED", {0: 4, 1: 4, 2: 3, 3: 3, 4: 2, 6: 2, 7: 1, 12: 1, 13: 0}),
    (ATTACHMENT, "POP", {0: 4, 1: 4, 2: 3, 3: 3, 4: 2, 6: 2, 7: 1, 12: 1, 13: 0}),
]


@pytest.mark.parametrize(
    ("rule", "code", "faulty", "level"),
    [(rule, code, faulty, level) for rule, code, bands in COUNTED_ROWS for faulty, level in bands.items()],
)
def test_counted_criteria_follow_their_row_of_the_table(rule, code, faulty, level):
    assert propose(rule, ticked(code, faulty)).level == level


@pytest.mark.parametrize(
    ("inside", "level"),
    [(20, 4), (18, 4), (17, 3), (15, 3), (14, 2), (10, 2), (9, 1), (0, 1)],
)
def test_lid_gap_follows_its_row_of_the_table(inside, level):
    assert propose(GAP, gaps(*[0.7] * inside, *[1.2] * (20 - inside))).level == level


def test_lid_gap_is_level_zero_when_any_fan_touches_or_too_many_are_far_out():
    touching = Evidence((finding("TCH", gap_mm=0.7), *(finding(gap_mm=0.7) for _ in range(19))))
    assert propose(GAP, touching).level == 0
    assert propose(GAP, gaps(*[0.7] * 16, *[1.6] * 4)).level == 3
    assert propose(GAP, gaps(*[0.7] * 15, *[1.6] * 5)).level == 0


@pytest.mark.parametrize(
    ("mean", "level"),
    [(0.0, 4), (5.0, 4), (6.0, 3), (10.0, 3), (11.0, 2), (20.0, 2), (21.0, 1), (44.0, 1)],
)
def test_direction_follows_its_row_of_the_table(mean, level):
    assert propose(DIRECTION, directions(*[mean] * 10)).level == level


def test_a_rule_that_names_no_crossing_fault_shares_over_the_measured_fans_only():
    data = {"mean_at_most": [5, 10, 20], "cross_deg": 45, "cross_share_at_most": 0.20}
    measured = [finding(direction_deg=50.0)] * 2 + [finding(direction_deg=0.0)] * 6
    evidence = Evidence((*measured, *[finding()] * 32))
    found = propose(parse_rule("deviation", data), evidence)
    assert (found.level, found.faults, found.inspected) == (0, 2, 8)
    assert propose(DIRECTION, evidence).inspected == 40


def test_the_mean_direction_is_the_same_in_any_order_to_the_last_bit():
    assert propose(DIRECTION, directions(0.1, 0.2, 0.3)) == propose(DIRECTION, directions(0.3, 0.2, 0.1))


def test_one_crossing_fan_keeps_direction_from_the_top_and_too_many_make_it_zero():
    straight = [finding(direction_deg=2.0)] * 10
    assert propose(DIRECTION, Evidence((*straight, finding("DIR")))).level == 3
    assert propose(DIRECTION, Evidence((*straight * 3, *[finding("DIR")] * 10))).level == 0
    assert propose(DIRECTION, Evidence((*straight * 2, *[finding("DIR")] * 5))).level == 3


def test_a_fan_at_the_crossing_angle_crosses_even_without_a_tick():
    found = propose(DIRECTION, directions(45.0, *[0.0] * 9))
    assert (found.level, found.faults) == (3, 1)


@pytest.mark.parametrize(
    ("covered", "level"),
    [(40, 4), (38, 4), (37, 3), (32, 3), (31, 2), (24, 2), (23, 1), (16, 1), (15, 0), (0, 0)],
)
def test_coverage_follows_its_row_of_the_table(covered, level):
    positions = tuple(finding(bare=i >= covered) for i in range(40))
    assert propose(COVERAGE, Evidence(positions)).level == level


@pytest.mark.parametrize(
    ("right", "level"),
    [(100, 4), (95, 4), (94, 3), (91, 3), (90, 2), (81, 2), (80, 1), (0, 1)],
)
def test_symmetry_follows_its_row_of_the_table_and_leaves_zero_to_a_person(right, level):
    assert propose(SYMMETRY, Evidence(left_count=100, right_count=right)).level == level
    assert propose(SYMMETRY, Evidence(left_count=right, right_count=100)).level == level


@pytest.mark.parametrize(
    ("minutes", "level"),
    [(239, 4), (240, 4), (241, 3), (300, 3), (301, 2), (360, 2), (361, 1), (480, 1), (481, 0)],
)
def test_time_follows_its_row_of_the_table(minutes, level):
    assert propose(TIME, Evidence(worked_s=60 * minutes, target_s=14400)).level == level


@pytest.mark.parametrize(
    ("missed", "level"),
    [
        ((), 4),
        (("waste",), 3),
        (("waste", "air"), 2),
        (("waste", "air", "hands"), 1),
        (("waste", "air", "hands", "surface"), 1),
        (("eye_cover",), 0),
        (("waste", "eye_cover"), 0),
    ],
)
def test_hygiene_follows_its_row_of_the_table(missed, level):
    assert propose(HYGIENE, Evidence(lines_missed=missed)).level == level


def test_layers_are_judged_by_a_person():
    found = propose(LAYERS, ticked("LYR", 3))
    assert (found.level, found.status, found.cap) == (None, "judged", None)


def test_product_fit_is_judged_but_never_above_the_cap_of_an_overweight_fan():
    found = propose(FIT, ticked("HVY", 2))
    assert (found.level, found.status, found.cap) == (None, "judged", 1)
    assert found.words == "HVY on 2 of 40 fans. Choose the level: 1 at most."
    assert propose(FIT, ticked("HVY", 0)).cap is None


def test_the_lowest_of_several_caps_holds():
    rule = parse_rule("judged", {"caps": {"HVY": 1, "CRL": 2}})
    assert propose(rule, Evidence((finding("CRL", "HVY"), finding("CRL")))).cap == 1
    assert propose(rule, Evidence((finding("CRL"),))).cap == 2


@pytest.mark.parametrize(
    ("rule", "evidence", "words"),
    [
        # 90 % score limits of 2 of 40 by hand from Wilson's formula, z = 1.645: 1.67 % and 14.03 %.
        (ISOLATION, ticked("STK", 2), "2 stuck of 40: 5 %, 90 % interval 1.7–14.0 %, band 2."),
        # 0 of 40: upper limit z^2 / (n + z^2) = 2.7055 / 42.7055 = 6.34 %.
        (ISOLATION, ticked("STK", 0), "0 stuck of 40: 0 %, 90 % interval 0–6.3 %, band 4."),
        # 1 of 20 by hand: centre 0.1036, half width 0.0924.
        (
            ISOLATION,
            ticked("STK", 1, of=20),
            "1 stuck of 20 (as 2 in 40): 5 %, 90 % interval 1.1–19.6 %, band 2.",
        ),
        (GAP, gaps(*[0.7] * 17, *[1.2] * 3), "17 of 20 gaps inside 0.5–1.0 mm: 85 %, band 3."),
        (
            GAP,
            gaps(*[0.7] * 15, *[1.6] * 5),
            "5 of 20 gaps outside 0.3–1.5 mm: 25 %, over the 20 % allowed, band 0.",
        ),
        (GAP, ticked("TCH", 1), "1 of 40 fans with TCH: any one means band 0."),
        (ADHESIVE, ticked("TCH", 2), "2 of 40 fans with adhesive on skin: any one means band 0."),
        (
            DIRECTION,
            directions(7.0, 8.0, 7.0),
            "Mean 7.3° off the local line on 3 fans, none of 3 crossing: band 3.",
        ),
        (DIRECTION, ticked("DIR", 9), "9 of 40 fans crossing: 22.5 %, over the 20 % allowed, band 0."),
        (
            COVERAGE,
            Evidence((finding(), finding(), finding(bare=True))),
            "2 of 3 usable lashes covered: 66.7 %, band 2.",
        ),
        (SYMMETRY, Evidence(left_count=80, right_count=76), "80 fans left, 76 right: 5 % apart, band 4."),
        (TIME, Evidence(worked_s=15720, target_s=14400), "262 min of 240: 109.2 %, band 3."),
        (HYGIENE, Evidence(lines_missed=()), "All lines met: band 4."),
        (HYGIENE, Evidence(lines_missed=("waste",)), "1 minor line missed, no critical one: band 3."),
        (HYGIENE, Evidence(lines_missed=("eye_cover",)), "1 critical line missed (eye cover): band 0."),
    ],
)
def test_the_sentence_shows_the_arithmetic(rule, evidence, words):
    assert propose(rule, evidence).words == words


def test_the_numbers_behind_the_sentence_are_handed_over():
    found = propose(ISOLATION, ticked("STK", 2))
    assert (found.status, found.faults, found.inspected, found.rate) == ("proposed", 2, 40, 0.05)
    assert (found.low, found.high) == (pytest.approx(0.0167, abs=1e-4), pytest.approx(0.1403, abs=1e-4))
    measured = propose(GAP, gaps(*[0.7] * 17, *[1.2] * 3))
    assert (measured.faults, measured.inspected, measured.value, measured.unit) == (3, 20, 85.0, "%")


def test_a_wider_confidence_is_named_in_the_sentence():
    # 95 % score limits of 2 of 40: 1.38 % and 16.50 %, by hand from Wilson's formula.
    words = propose(ISOLATION, ticked("STK", 2), confidence=0.95).words
    assert words == "2 stuck of 40: 5 %, 95 % interval 1.4–16.5 %, band 2."


def test_a_confidence_that_cannot_be_is_refused():
    with pytest.raises(ScoringInputError, match="between 0 and 1"):
        propose(ISOLATION, ticked("STK", 2), confidence=90)


@pytest.mark.parametrize("rule", [ISOLATION, GAP, DIRECTION, COVERAGE, SYMMETRY, TIME, HYGIENE])
def test_with_nothing_measured_no_level_is_proposed_and_the_words_say_what_to_do(rule):
    found = propose(rule, Evidence())
    assert (found.level, found.status) == (None, "not_enough")
    assert found.words.endswith(", or judge by eye and give a reason.")


def test_inspected_fans_without_a_single_gap_say_to_measure():
    assert propose(GAP, ticked("STK", 0)).words == (
        "No gaps measured yet. Measure the marked fans, or judge by eye and give a reason."
    )


def test_a_bare_position_is_not_counted_among_inspected_fans():
    found = propose(OPENING, Evidence((*[finding("CLF")] * 2, *[finding()] * 36, *[finding(bare=True)] * 2)))
    assert (found.faults, found.inspected) == (2, 38)


def test_no_target_or_no_fans_on_either_eye_is_not_enough():
    assert propose(TIME, Evidence(worked_s=60)).status == "not_enough"
    assert propose(SYMMETRY, Evidence(left_count=0, right_count=0)).status == "not_enough"
    assert propose(SYMMETRY, Evidence(left_count=80)).status == "not_enough"


CODES = st.frozensets(st.sampled_from(["STK", "CLF", "BED", "TCH", "DIR", "HVY"]), max_size=3)


@st.composite
def findings(draw):
    bare = st.just(finding(bare=True))
    fans = st.builds(
        lambda codes, gap, turn: finding(*codes, gap_mm=gap, direction_deg=turn),
        CODES,
        st.none() | st.floats(0, 20),
        st.none() | st.floats(0, 180),
    )
    return tuple(draw(st.lists(fans | bare, max_size=30)))


SECONDS = st.none() | st.floats(0, exclude_min=True, allow_infinity=False)
EVIDENCE = st.builds(
    Evidence,
    findings(),
    SECONDS,
    SECONDS,
    st.none() | st.lists(st.sampled_from(["waste", "air", "hands", "eye_cover"])).map(tuple),
    st.none() | st.integers(0, 200),
    st.none() | st.integers(0, 200),
)


@settings(max_examples=100)
@given(st.sampled_from(RULES), EVIDENCE)
def test_valid_evidence_always_gives_a_sentence_and_a_level_only_when_proposed(rule, evidence):
    found = propose(rule, evidence)
    assert found.words.endswith(".")
    assert (found.level in range(5)) is (found.status == "proposed")
    assert found.status in {"proposed", "not_enough", "judged"}
    if found.rate is not None:
        assert 0 <= found.low <= found.rate <= found.high <= 1


@settings(max_examples=80)
@given(st.sampled_from(RULES), EVIDENCE, st.randoms())
def test_the_order_of_findings_changes_nothing(rule, evidence, shuffler):
    mixed, lines = list(evidence.findings), list(evidence.lines_missed or ())
    shuffler.shuffle(mixed)
    shuffler.shuffle(lines)
    reordered = Evidence(
        tuple(mixed),
        evidence.worked_s,
        evidence.target_s,
        None if evidence.lines_missed is None else tuple(lines),
        evidence.left_count,
        evidence.right_count,
    )
    assert propose(rule, reordered) == propose(rule, evidence)


def worse(position, code):
    return PositionFinding(
        position.eye,
        position.zone,
        position.layer,
        position.faults | {code},
        gap_mm=position.gap_mm,
        direction_deg=position.direction_deg,
    )


@settings(max_examples=100)
@given(
    st.sampled_from([ISOLATION, OPENING, ADHESIVE, GAP, DIRECTION]),
    findings(),
    st.sampled_from(["STK", "CLF", "BED", "TCH", "DIR"]),
    st.data(),
)
def test_one_more_fault_never_raises_a_level(rule, positions, code, data):
    fans = [index for index, each in enumerate(positions) if not each.bare]
    if not fans:
        return
    index = data.draw(st.sampled_from(fans))
    before = propose(rule, Evidence(positions)).level
    changed = (*positions[:index], worse(positions[index], code), *positions[index + 1 :])
    after = propose(rule, Evidence(changed)).level
    assert before is None or (after is not None and after <= before)


@settings(max_examples=60)
@given(st.integers(1, 60), st.data())
def test_more_of_what_is_wrong_never_raises_the_level_of_any_other_kind(positions, data):
    bare = data.draw(st.integers(0, positions - 1))

    def covered(bare):
        return propose(COVERAGE, Evidence(tuple(finding(bare=i < bare) for i in range(positions)))).level

    assert covered(bare + 1) <= covered(bare)

    apart = data.draw(st.integers(0, 99))
    near, far = (
        propose(SYMMETRY, Evidence(left_count=100, right_count=100 - d)).level for d in (apart, apart + 1)
    )
    assert far <= near

    seconds = data.draw(st.floats(1, 1e6))
    quick, slow = (propose(TIME, Evidence(worked_s=s, target_s=9000)).level for s in (seconds, seconds + 60))
    assert slow <= quick

    missed = data.draw(st.lists(st.sampled_from(["waste", "air", "hands", "eye_cover"]), unique=True))
    fewer, more = (propose(HYGIENE, Evidence(lines_missed=tuple(m))).level for m in (missed[:-1], missed))
    assert more <= fewer


@settings(max_examples=60)
@given(findings())
def test_a_cap_never_rises_with_another_overweight_fan(positions):
    before = propose(FIT, Evidence(positions)).cap
    after = propose(FIT, Evidence((*positions, finding("HVY")))).cap
    assert after == 1
    assert before in {None, 1}
