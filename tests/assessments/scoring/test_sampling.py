from collections import Counter
from dataclasses import asdict, replace
from hashlib import sha256

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import chdtrc

from assessments.scoring.sampling import EYES, SamplePlan, SamplingError, draw_positions

PLAN = SamplePlan()
SEEDS = st.integers(-(2**70), 2**70)


@st.composite
def plans(draw):
    zones = draw(st.lists(st.text(min_size=1, max_size=3), min_size=1, max_size=5, unique=True))
    layers = draw(st.lists(st.text(min_size=1, max_size=3), min_size=1, max_size=3, unique=True))
    fans_per_cell = draw(st.integers(1, 12))
    per_zone = draw(st.integers(1, fans_per_cell * len(layers)))
    measures = st.integers(0, per_zone)
    counts = [draw(measures) for _ in range(3)]
    return SamplePlan(tuple(zones), tuple(layers), per_zone, fans_per_cell, *counts)


# ---------------------------------------------------------------- known answers


def test_the_default_plan_inspects_5_fans_a_zone_an_eye_40_in_all():
    positions = draw_positions(PLAN, seed=1)
    assert len(positions) == 40
    assert set(Counter((p.eye, p.zone) for p in positions).values()) == {5}


def test_the_draw_can_be_recomputed_with_sha256sum():
    """By hand from `printf %s 7/left/inner/top/1 | sha256sum` (GNU coreutils) and its like. First digits:

    left inner   top 2830 cd5d 278e 4e70   bottom 4a0e d602 74b4 e8a6   zone ...63e3, odd: bottom starts
    left outer   top 592b 7a01 e54e 1e1a   bottom 1497 7e57 275a 0afd   zone ...d0a6, even: top starts
    right inner  top 0c81 6d1e 5f66 159d   bottom 2fd2 0aed 2296 f123   zone ...3139, odd: bottom starts
    right outer  top e3c3 99cc 9f12 380f   bottom bb93 a253 2abb da91   zone ...8a14, even: top starts
    The three turns of a zone take the smallest digest left in each layer; the first turn wants the gap, the
    first two want the direction.
    """
    plan = SamplePlan(("inner", "outer"), ("top", "bottom"), 3, 4, gaps_per_zone=1, directions_per_zone=2)
    drawn = [
        (p.eye, p.zone, p.layer, p.fan, p.wants_gap, p.wants_direction) for p in draw_positions(plan, seed=7)
    ]
    assert drawn == [
        ("left", "inner", "top", 3, False, True),
        ("left", "inner", "bottom", 1, True, True),
        ("left", "inner", "bottom", 3, False, False),
        ("left", "outer", "top", 1, False, False),
        ("left", "outer", "top", 4, True, True),
        ("left", "outer", "bottom", 4, False, True),
        ("right", "inner", "top", 1, False, True),
        ("right", "inner", "bottom", 2, True, True),
        ("right", "inner", "bottom", 3, False, False),
        ("right", "outer", "top", 2, False, False),
        ("right", "outer", "top", 4, True, True),
        ("right", "outer", "bottom", 3, False, True),
    ]


def test_pairs_can_be_recomputed_with_sha256sum_too():
    """By hand from `printf %s 7/both/inner/top/1 | sha256sum` (GNU coreutils) and its like. First digits:

    both inner   top 147b 5ec0 8771 8c80   bottom f55d adae afcf 0d6d   zone ...0b61, odd: bottom starts
    both outer   top da90 4e64 3e9e ec4b   bottom 4736 db3c 6233 d756   zone ...8316, even: top starts
    The first two turns of a zone take these on both eyes; the third takes the smallest digest of its own eye
    (those of the test above) among the fans left.
    """
    plan = SamplePlan(("inner", "outer"), ("top", "bottom"), 3, 4, 0, 0, pairs_per_zone=2)
    drawn = [(p.eye, p.zone, p.layer, p.fan, p.wants_length) for p in draw_positions(plan, seed=7)]
    assert drawn == [
        ("left", "inner", "top", 1, True),
        ("left", "inner", "bottom", 1, False),
        ("left", "inner", "bottom", 4, True),
        ("left", "outer", "top", 3, True),
        ("left", "outer", "top", 4, False),
        ("left", "outer", "bottom", 1, True),
        ("right", "inner", "top", 1, True),
        ("right", "inner", "bottom", 2, False),
        ("right", "inner", "bottom", 4, True),
        ("right", "outer", "top", 3, True),
        ("right", "outer", "top", 4, False),
        ("right", "outer", "bottom", 1, True),
    ]


def test_the_digest_is_the_published_one():
    """FIPS 180-4, SHA-256 example "abc" (value from memory)."""
    assert sha256(b"abc").hexdigest().startswith("ba7816bf8f01cfea")


# ---------------------------------------------------------------- properties


@given(plans(), SEEDS)
@settings(max_examples=60)
def test_any_draw_is_stratified_without_repeats_and_within_the_population(plan, seed):
    positions = draw_positions(plan, seed=seed)
    cells = [(p.eye, p.zone, p.layer, p.fan) for p in positions]
    assert len(set(cells)) == len(cells)
    assert all(1 <= p.fan <= plan.fans_per_cell for p in positions)
    for eye in EYES:
        for zone in plan.zones:
            layers = Counter(dict.fromkeys(plan.layers, 0))
            layers.update(p.layer for p in positions if (p.eye, p.zone) == (eye, zone))
            assert layers.total() == plan.per_zone
            assert max(layers.values()) - min(layers.values()) <= 1


@given(plans(), SEEDS)
@settings(max_examples=60)
def test_the_inspection_travels_each_lid_once_from_the_inner_corner(plan, seed):
    positions = draw_positions(plan, seed=seed)
    path = [
        (EYES.index(p.eye), plan.zones.index(p.zone), plan.layers.index(p.layer), p.fan) for p in positions
    ]
    assert path == sorted(path)
    assert [p.index for p in positions] == list(range(len(positions)))


@given(plans(), SEEDS)
@settings(max_examples=60)
def test_each_zone_has_the_measures_asked_for(plan, seed):
    positions = draw_positions(plan, seed=seed)
    gaps = Counter((p.eye, p.zone) for p in positions if p.wants_gap)
    directions = Counter((p.eye, p.zone) for p in positions if p.wants_direction)
    for eye in EYES:
        for zone in plan.zones:
            assert gaps[eye, zone] == plan.gaps_per_zone
            assert directions[eye, zone] == plan.directions_per_zone


@given(plans(), SEEDS)
@settings(max_examples=60)
def test_pairs_stand_at_the_same_places_of_both_eyes(plan, seed):
    positions = draw_positions(plan, seed=seed)
    places = {eye: {(p.zone, p.layer, p.fan) for p in positions if p.eye == eye and p.wants_length}
              for eye in EYES}  # fmt: skip
    assert places["left"] == places["right"]
    assert Counter(zone for zone, _, _ in places["left"]) == Counter(
        dict.fromkeys(plan.zones, plan.pairs_per_zone)
    )


@given(plans(), SEEDS)
@settings(max_examples=30)
def test_a_plan_kept_before_there_were_pairs_still_draws_what_it_drew(plan, seed):
    kept = {name: value for name, value in asdict(plan).items() if name != "pairs_per_zone"}
    drawn = draw_positions(SamplePlan(**kept), seed=seed)
    assert drawn == draw_positions(replace(plan, pairs_per_zone=0), seed=seed)
    assert not any(p.wants_length for p in drawn)


def test_the_two_default_gap_measures_of_a_zone_fall_in_different_layers():
    for seed in range(50):
        wanted = Counter((p.eye, p.zone, p.layer) for p in draw_positions(PLAN, seed=seed) if p.wants_gap)
        assert set(wanted.values()) == {1} and len(wanted) == 16


@given(SEEDS)
def test_the_same_seed_gives_the_same_draw(seed):
    assert draw_positions(PLAN, seed=seed) == draw_positions(SamplePlan(), seed=seed)


def test_different_seeds_give_different_draws():
    assert len({draw_positions(PLAN, seed=seed) for seed in range(500)}) == 500


def test_a_full_sample_inspects_every_fan():
    positions = draw_positions(replace(PLAN, per_zone=20), seed=3)
    assert len({(p.eye, p.zone, p.layer, p.fan) for p in positions}) == 2 * 4 * 2 * 10


# ---------------------------------------------------------------- evenness
#
# Fixed seeds, so the outcome never changes; a fair draw would have failed each check with probability 1e-6.

DRAWS = [draw_positions(PLAN, seed=seed) for seed in range(1500)]


def scaled_deviation(counts, sizes):
    """Chi-square on len(counts) - 1 degrees of freedom for sampling without replacement.

    Sizes m of N fans: the counts have covariance sum p(1-p) N/(N-1) (I - 11'/N) with p = m/N.
    """
    n = len(counts)
    variance = sum(m / n * (1 - m / n) for m in sizes) * n / (n - 1)
    return sum((count - sum(sizes) / n) ** 2 for count in counts) / variance


PAIRED = replace(PLAN, pairs_per_zone=2)


def test_pairs_leave_every_fan_of_an_eye_equally_likely_and_each_layer_starting_equally_often():
    """One eye only: the other holds the same pairs, so its counts are no second evidence."""
    draws = [[p for p in draw_positions(PAIRED, seed=seed) if p.eye == "left"] for seed in range(1500)]
    for kind in ("drawn", "wants_length"):
        statistic, freedom = 0.0, 0
        for zone, layer in [(zone, layer) for zone in PLAN.zones for layer in PLAN.layers]:
            chosen = [[p.fan for p in draw if (p.zone, p.layer) == (zone, layer)
                       and (kind == "drawn" or p.wants_length)] for draw in draws]  # fmt: skip
            fans = Counter(fan for each in chosen for fan in each)
            assert set(fans) == set(range(1, 11))
            statistic += scaled_deviation(list(fans.values()), [len(each) for each in chosen])
            freedom += 9
        assert chdtrc(freedom, statistic) > 1e-6
    top = Counter((n, p.zone) for n, draw in enumerate(draws) for p in draw if p.layer == "top")
    starts, total = sum(count == 3 for count in top.values()), len(top)
    assert abs(starts - total / 2) / (total / 4) ** 0.5 < 4.89


@pytest.mark.parametrize("kind", ["drawn", "wants_gap"])
def test_every_fan_is_equally_likely(kind):
    statistic, freedom = 0.0, 0
    for cell in [(eye, zone, layer) for eye in EYES for zone in PLAN.zones for layer in PLAN.layers]:
        fans, sizes = Counter(dict.fromkeys(range(1, 11), 0)), []
        for draw in DRAWS:
            chosen = [
                p.fan for p in draw if (p.eye, p.zone, p.layer) == cell and (kind == "drawn" or p.wants_gap)
            ]
            fans.update(chosen)
            sizes.append(len(chosen))
        assert min(fans.values()) > 0
        statistic += scaled_deviation(list(fans.values()), sizes)
        freedom += 9
    assert chdtrc(freedom, statistic) > 1e-6


def test_each_layer_starts_equally_often():
    """Top holds 3 of a zone's 5 exactly when it starts; normal approximation, |z| < 4.89 is 1 - 1e-6."""
    zones = Counter((n, p.eye, p.zone) for n, draw in enumerate(DRAWS) for p in draw if p.layer == "top")
    starts, total = sum(count == 3 for count in zones.values()), len(zones)
    assert abs(starts - total / 2) / (total / 4) ** 0.5 < 4.89


# ---------------------------------------------------------------- bad plans


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"zones": ()}, "no_zones"),
        ({"zones": ("inner", "outer", "inner")}, "duplicate_zones"),
        ({"layers": ()}, "no_layers"),
        ({"layers": ("top", "top")}, "duplicate_layers"),
        ({"per_zone": 0}, "per_zone_too_small"),
        ({"per_zone": 21}, "per_zone_too_large"),
        ({"fans_per_cell": 2}, "per_zone_too_large"),
        ({"fans_per_cell": -1}, "per_zone_too_large"),
        ({"gaps_per_zone": -1}, "bad_gap_count"),
        ({"gaps_per_zone": 6}, "bad_gap_count"),
        ({"directions_per_zone": -1}, "bad_direction_count"),
        ({"directions_per_zone": 6}, "bad_direction_count"),
        ({"pairs_per_zone": -1}, "bad_pair_count"),
        ({"pairs_per_zone": 6}, "bad_pair_count"),
    ],
)
def test_an_impossible_plan_is_refused_with_a_sentence(change, code):
    with pytest.raises(SamplingError) as caught:
        SamplePlan(**change)
    assert caught.value.code == code
    assert caught.value.message == str(caught.value)
    assert caught.value.message.endswith(".")


def test_the_refusal_names_both_numbers():
    with pytest.raises(SamplingError, match=r"21 fans to inspect in a zone, but only 20 are placed there\."):
        SamplePlan(per_zone=21)
