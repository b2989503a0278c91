import numpy as np
import pytest

from assessments.skill.arrays import parameter_arrays
from assessments.skill.batch import Sweep
from assessments.skill.calibrate import calibrated
from assessments.skill.likelihood import level_chances
from assessments.skill.parameters import CountScale, Criterion, Dynamics, Facet, Parameters, Skill
from assessments.skill.scales import ScaleSums
from assessments.skill.table import MarkTable, panels

RHO = 0.08
TAU = np.array([-2.6, -0.4, 0.9, 2.1])
# Ability 0 for everyone, always: what is left are thresholds, count scale and dispersion.
FIXED = Dynamics(start=0, start_common=0, start_own=1e-6, step_common=0, step_own=0, day_common=0,
                 day_own=1e-6, gain=0, gain_variance=0, lead_variance=0,
                 idle_common=0, idle_own=0)  # fmt: skip
PARAMETERS = Parameters(
    "1", (Skill("a"),), (Criterion("level", "a"), Criterion("count", "a", count=CountScale(-2.0, 0.6, 0.02))),
    educators={"e": Facet(0, 0)}, briefs={"b": Facet(0, 0)}, dynamics=FIXED,
)  # fmt: skip

PLAIN = Parameters(
    "1", (Skill("a"),), tuple(Criterion(f"c{place}", "a") for place in range(4)),
    dynamics=Dynamics(start=0, start_common=1.5, start_own=0.75),
)  # fmt: skip

SPREAD = Parameters(
    "1", (Skill("a"),),
    (Criterion("count", "a", count=CountScale(-2.0, 0.6, 0.05)), *PLAIN.criteria),
    educators={"e": Facet(0, 0)}, briefs={"b": Facet(0, 0)},
    dynamics=Dynamics(start=0, start_common=6.0, start_own=0.25, step_common=0, step_own=1e-6, day_common=0,
                      day_own=1e-6, gain=0, gain_variance=0, lead_variance=0, idle_common=0, idle_own=0),
)  # fmt: skip


def steady_table(rng, students=3000):
    level = rng.choice(5, (students, 1), p=level_chances(0.0, np.exp(-np.append(0, np.cumsum(TAU)))))
    share, whole = 1 / (1 + np.exp(2.0)), 1 / RHO - 1
    faults = rng.binomial(40, rng.beta(share * whole, (1 - share) * whole, (students, 1)))
    zero = np.zeros((students, 1), dtype=int)
    pair = [np.hstack(parts).astype(np.int16) for parts in ((zero, faults), (zero, zero + 40))]
    levels = np.hstack([level, zero - 1]).astype(np.int8)
    place = np.arange(students)
    return MarkTable(students, place, zero[:, 0] + 0.0, zero[:, 0], zero[:, 0], levels, *pair, ("e",), ("b",))


def sums_of(table, parameters):
    sweep = Sweep(table, parameter_arrays(parameters))
    sums = ScaleSums(sweep)
    for panel in panels(table, 1024):
        sweep.run(panel, sums.watch)
    return sums


def test_thresholds_move_to_those_that_drew_the_marks_up_to_their_common_place():
    """Newton steps from the defaults; the common place belongs to the criterion's offset. Standard error of a
    threshold from 3000 marks is about 0.06."""
    parameters, table = PARAMETERS, steady_table(np.random.default_rng(1))
    for _ in range(4):
        parameters = calibrated(table, parameters, version="2", passes=1)
    assert np.array(parameters.thresholds) == pytest.approx(TAU - TAU.mean(), abs=0.2)
    assert sum(parameters.thresholds) == pytest.approx(0, abs=1e-9)


def test_the_dispersion_of_faults_is_that_of_the_beta_binomial_that_drew_them():
    """Var(k) = n p q (1 + rho (n - 1)) (Skellam 1948; MEM)."""
    sums = sums_of(steady_table(np.random.default_rng(2)), PARAMETERS)
    share = 1 / (1 + np.exp(2.0))
    assert sums.dispersion()[1] @ [1, share] == pytest.approx(RHO, abs=0.012)


def test_faults_whose_rate_itself_varies_have_a_dispersion_that_rises_with_the_rate():
    """Drawn: a rate 1/3 of whose square is its variance, so Var = n p (1-p) + n (n-1) p^2 / 3, that is r
    near p / 3 (Greenwood and Yule 1920; MEM); beta-binomial faults give r = .05 at every p."""
    rng = np.random.default_rng(6)
    rated, plain = (spread_table(rng, clustered=clustered) for clustered in (True, False))
    found = [calibrated(table, SPREAD, version="2").criteria[0].count for table in (rated, plain)]
    assert found[0].dispersion < 0.015 and 0.2 < found[0].rise < 0.45
    assert found[1].dispersion == pytest.approx(0.05, abs=0.015) and found[1].rise < 0.1


def test_a_fault_curve_that_bends_is_found():
    """Planted: the logit of the share falls by .3 a logit far below the middle and by .9 far above it."""
    table = spread_table(np.random.default_rng(7), clustered=False, bend=0.3)
    found = calibrated(table, SPREAD, version="2", passes=12).criteria[0].count
    assert found.bend == pytest.approx(0.3, abs=0.1)
    assert found.slope == pytest.approx(0.6, abs=0.1)


def spread_table(rng, *, clustered, bend=0.0, students=400, sets=6):
    """Abilities far apart and constant, shown by four levels; one counted criterion at each set."""
    size = students * sets
    theta = np.repeat(rng.normal(0, 2.5, students), sets)[:, None]
    share = 1 / (1 + np.exp(2.0 + 0.6 * theta + bend * (np.sqrt(theta**2 + 9) - 3)))
    if clustered:
        rate = np.minimum(share * rng.gamma(3, 1 / 3, (size, 1)), 0.95)
    else:
        rate = rng.beta(share * 19, (1 - share) * 19)
    below = level_chances(theta, np.exp(-np.append(0, np.cumsum(PLAIN.thresholds)))).cumsum(axis=-1)[..., :4]
    levels = (rng.random((size, 4, 1)) > below).sum(axis=-1).astype(np.int8)
    zero = np.zeros((size, 4), dtype=int)
    pair = [
        np.hstack(parts).astype(np.int16)
        for parts in ((rng.binomial(40, rate), zero), (zero[:, :1] + 40, zero))
    ]
    return MarkTable(
        students, np.repeat(np.arange(students), sets), np.tile(np.arange(sets) * 3.0, students),
        zero[:, 0], zero[:, 0], np.hstack([zero[:, :1] - 1, levels]).astype(np.int8), *pair, ("e",), ("b",),
    )  # fmt: skip


def test_without_counts_the_scales_stay_where_they_are():
    sums = sums_of(steady_table(np.random.default_rng(3), 5), PARAMETERS)
    assert sums.count_change()[0] == pytest.approx([0, 0, 0])
    assert sums.dispersion()[0] == pytest.approx([0.02, 0])
    assert sums.level_offset_change()[0] == 0


def test_a_few_marks_hardly_move_a_threshold():
    sums = sums_of(steady_table(np.random.default_rng(4), 3), PARAMETERS)
    assert np.abs(sums.threshold_change()).max() < 0.6


def test_an_educators_own_use_of_the_levels_is_found():
    """Planted: one educator's thresholds stand 1.5 times as far apart as the others', one's .7 times."""
    widths, tau = np.array([1.5, 0.7, 1.0, 0.8]), np.array([-2.1, -0.7, 0.7, 2.1])
    table = marks_of_educators(np.random.default_rng(8), widths[:, None] * tau)
    found = calibrated(table, PLAIN, version="2")
    steps = np.array([found.educators[code].steps for code in table.educators])
    assert np.abs(steps - (widths - widths.mean())[:, None] * tau).max() < 0.25
    assert np.abs(steps.sum(axis=1)).max() < 1e-9
    assert np.abs(steps.mean(axis=0)).max() < 1e-9
    assert found.thresholds == pytest.approx(tuple(tau * widths.mean()), abs=0.25)


def test_few_marks_leave_an_educator_near_the_common_use():
    """40 marks against a prior of standard deviation .5 logit: less than half of the way."""
    thresholds = np.array([[-4.0, -1.3, 1.3, 4.0], [-2, -0.7, 0.7, 2]])
    table = marks_of_educators(np.random.default_rng(8), thresholds[[0, 1, 1, 1]])
    few = table.of_students(np.unique(table.student[table.educator == 0])[:10])
    found = calibrated(few, PLAIN, version="2")
    assert abs(found.educators["e0"].steps[0]) < 1.0


def marks_of_educators(rng, thresholds, students=500, sets=4):
    """Students of constant ability whose sets go round the educators, four criteria a set."""
    size = students * sets
    theta = np.repeat(rng.normal(0, 1.5, students), sets)
    educator = (np.arange(size) + np.repeat(np.arange(students), sets)) % len(thresholds)
    odds = np.exp(
        theta[:, None] * np.arange(5) - np.pad(thresholds.cumsum(axis=1), ((0, 0), (1, 0)))[educator]
    )
    below = (odds / odds.sum(axis=1, keepdims=True)).cumsum(axis=1)[:, None, :4]
    levels = (rng.random((size, 4, 1)) > below).sum(axis=-1).astype(np.int8)
    empty, codes = np.zeros((size, 0), dtype=np.int16), tuple(f"e{place}" for place in range(len(thresholds)))
    return MarkTable(
        students, np.repeat(np.arange(students), sets), np.tile(np.arange(sets) * 3.0, students),
        educator, np.zeros(size, dtype=int), levels, empty, empty, codes, ("b",),
    )  # fmt: skip
