from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import expit
from scipy.stats import binom

from assessments.skill.arrays import parameter_arrays
from assessments.skill.filter import (
    after_set,
    beliefs_after_each_set,
    evidence_of,
    first_belief,
    practised,
    rested,
    score_and_information,
)
from assessments.skill.interface import SkillInputError
from assessments.skill.likelihood import level_chances
from assessments.skill.observations import Grading, SetRecord
from assessments.skill.parameters import CountScale, Criterion, Dynamics, Facet, Parameters, Skill

SKILLS = (Skill("isolation"), Skill("wrap"), Skill("pace", is_speed=True))
CRITERIA = (
    Criterion("sticky", "isolation", count=CountScale()),
    Criterion("tidy", "isolation", 0.2),
    Criterion("wrap", "wrap", -0.1),
    Criterion("minutes", "pace"),
)
PARAMETERS = Parameters(
    "1",
    SKILLS,
    CRITERIA,
    educators={"ines": Facet(0.4, 0.01), "tova": Facet(-0.4, 0.01), "sure": Facet(0.0, 0.0)},
    briefs={"classic": Facet(0.0, 0.0)},
)
ARRAYS = parameter_arrays(PARAMETERS)
NAMES = ("tidy", "wrap", "minutes")
LEVELS = st.lists(st.integers(0, 4), min_size=3, max_size=3)


def set_of(levels, day=0.0, *, educator="sure", counts=None):
    return SetRecord(
        day, "classic", (Grading(educator, dict(zip(NAMES, levels, strict=False)), counts or {}),)
    )


def after(*sets):
    return beliefs_after_each_set(sets, ARRAYS)[-1]


# ---------------------------------------------------------------- against exact posteriors


def posterior_on_a_grid(log_likelihood):
    """(mean, sd) of one ability, prior N(start, start_common + start_own), seen through the day's noise."""
    dynamics = PARAMETERS.dynamics
    grid = np.linspace(-8, 8, 3201)
    prior_variance = dynamics.start_common + dynamics.start_own
    day_variance = dynamics.day_common + dynamics.day_own
    total = prior_variance + day_variance
    density = np.exp(-((grid - dynamics.start) ** 2) / (2 * total) + log_likelihood(grid))
    density /= density.sum()
    mean = density @ grid
    variance = density @ grid**2 - mean**2
    share = prior_variance / total
    return dynamics.start + share * (mean - dynamics.start), np.sqrt(
        prior_variance * (1 - share) + share**2 * variance
    )


@pytest.mark.parametrize("level", [0, 1, 2, 3, 4])
def test_one_level_gives_the_posterior_found_by_integration(level):
    """Oracle: the same model integrated on a grid. Laplace's method stays within a sixth of a deviation."""
    belief = after(SetRecord(0.0, "classic", (Grading("sure", {"minutes": level}),)))
    mean, sd = posterior_on_a_grid(lambda x: np.log(level_chances(x, np.array(ARRAYS.weights))[:, level]))
    assert belief.mean[2] == pytest.approx(mean, abs=sd / 6)
    assert np.sqrt(belief.covariance[2, 2]) == pytest.approx(sd, rel=0.06)


@pytest.mark.parametrize("faults", [0, 2, 6, 15])
def test_counts_without_clustering_give_the_binomial_posterior(faults):
    """Oracle: binomial likelihood on a grid (CALC)."""
    criteria = (Criterion("sticky", "isolation", count=CountScale(dispersion=0.0)),)
    arrays = parameter_arrays(
        Parameters("1", SKILLS, criteria, educators=PARAMETERS.educators, briefs=PARAMETERS.briefs)
    )
    record = SetRecord(0.0, "classic", (Grading("sure", counts={"sticky": (faults, 40)}),))
    belief = beliefs_after_each_set([record], arrays)[-1]
    mean, sd = posterior_on_a_grid(lambda x: binom.logpmf(faults, 40, expit(-2.9 - 0.6 * x)))
    assert belief.mean[0] == pytest.approx(mean, abs=sd / 6)
    assert np.sqrt(belief.covariance[0, 0]) == pytest.approx(sd, rel=0.08)


def test_the_update_agrees_with_a_filter_in_the_information_form():
    """The textbook gain C (C + R)^-1 at the mode, found here by Newton's method in the information form."""
    belief = first_belief(ARRAYS)
    record = set_of([3, 1, 2])
    new = after_set(belief, record, ARRAYS)
    size, dynamics = ARRAYS.size, PARAMETERS.dynamics
    prior = belief.covariance[:size, :size] + dynamics.day_common + dynamics.day_own * np.eye(size)
    on_day = belief.mean[:size]
    for _ in range(30):
        score, information = score_and_information(on_day, evidence_of(record, ARRAYS), ARRAYS)
        on_day = on_day + np.linalg.solve(
            np.linalg.inv(prior) + np.diag(information),
            score - np.linalg.solve(prior, on_day - belief.mean[:size]),
        )
    gain = belief.covariance[:, :size] @ np.linalg.inv(prior + np.diag(1 / information))
    assert new.mean == pytest.approx(
        belief.mean + belief.covariance[:, :size] @ np.linalg.solve(prior, on_day - belief.mean[:size]),
        abs=2e-3,
    )
    assert new.covariance == pytest.approx(belief.covariance - gain @ belief.covariance[:size], abs=2e-3)


# ---------------------------------------------------------------- promises


@settings(max_examples=30, deadline=None)
@given(LEVELS, st.integers(0, 2))
def test_a_better_mark_never_lowers_any_skill(levels, place):
    better = [min(4, level + (index == place)) for index, level in enumerate(levels)]
    base = after(set_of([2, 2, 2]), set_of(levels, 3.0))
    raised = after(set_of([2, 2, 2]), set_of(better, 3.0))
    assert (raised.mean - base.mean >= -1e-3).all()


@settings(max_examples=20, deadline=None)
@given(st.lists(LEVELS, min_size=1, max_size=8), st.floats(0.1, 900))
def test_idle_days_never_make_us_surer_and_never_raise_a_level(history, idle):
    belief = after(*(set_of(levels, 3.0 * n) for n, levels in enumerate(history)))
    later = rested(belief, ARRAYS, belief.day + idle)
    growth = later.covariance - belief.covariance
    assert np.linalg.eigvalsh(growth).min() >= -1e-12
    assert (later.mean <= belief.mean + 1e-12).all()


def test_half_of_a_gain_is_left_after_one_half_life_and_speed_fades_at_half_the_pace():
    """Remaining gain after 6 months: .527 accuracy, .726 speed (published half-lives; CALC)."""
    belief = after(*(set_of([4, 4, 4], 2.0 * n) for n in range(6)))
    later = rested(belief, ARRAYS, belief.day + 6 * 365.25 / 12)
    start = PARAMETERS.dynamics.start
    kept = (later.mean - start)[:3] / (belief.mean - start)[:3]
    assert kept == pytest.approx([0.527, 0.527, 0.726], abs=1e-3)


def test_someone_below_the_start_does_not_rise_by_resting():
    belief = after(*(set_of([0, 0, 0], 2.0 * n) for n in range(6)))
    assert belief.mean[0] < PARAMETERS.dynamics.start
    assert rested(belief, ARRAYS, 500.0).mean == pytest.approx(belief.mean)


def test_the_next_set_is_expected_higher_by_the_personal_slope():
    belief = after(set_of([2, 2, 2]))
    ahead = practised(belief, ARRAYS)
    assert ahead.mean[0] - belief.mean[0] == pytest.approx(belief.mean[3] * np.log(3 / 2))


def test_counts_are_used_instead_of_the_level_made_from_them():
    counts = {"sticky": (2, 40)}
    plain = after(set_of([2, 2, 2], counts=counts))
    grading = Grading("sure", {"sticky": 0, "tidy": 2, "wrap": 2, "minutes": 2}, counts)
    both = after(SetRecord(0.0, "classic", (grading,)))
    assert both.mean == pytest.approx(plain.mean)


def test_nothing_inspected_leaves_the_level_to_speak():
    grading = Grading("sure", {"sticky": 4}, {"sticky": (0, 0)})
    assert after(SetRecord(0.0, "classic", (grading,))).mean[0] > first_belief(ARRAYS).mean[0]


def test_more_fans_say_more_but_clustering_sets_a_bound():
    """Information of n clustered fans: n p q / (1 + rho (n - 1)), at most p q / rho (Kish's design
    effect, 1965; MEM)."""

    def news(inspected):
        evidence = evidence_of(
            SetRecord(0.0, "classic", (Grading("sure", counts={"sticky": (0, inspected)}),)), ARRAYS
        )
        return score_and_information(np.zeros(3), evidence, ARRAYS)[1][0]

    share = expit(-2.9)
    assert news(40) / news(1) == pytest.approx(40 / (1 + 0.02 * 39), rel=0.02)
    assert news(20_000) == pytest.approx(0.36 * share * (1 - share) / 0.02, rel=0.02)


def test_a_strict_educators_mark_is_worth_more():
    assert (
        after(set_of([2, 2, 2], educator="ines")).mean[0] > after(set_of([2, 2, 2], educator="tova")).mean[0]
    )


def test_a_second_blind_mark_narrows_the_belief_but_less_than_another_set():
    first, second = Grading("ines", {"tidy": 2, "wrap": 2}), Grading("tova", {"tidy": 2, "wrap": 2})
    alone = after(SetRecord(0.0, "classic", (first,)))
    blind = after(SetRecord(0.0, "classic", (first, second)))
    assert blind.covariance[0, 0] < alone.covariance[0, 0]
    assert blind.sets == 1


def test_a_skill_without_marks_is_moved_only_by_what_it_shares():
    belief = after(SetRecord(0.0, "classic", (Grading("sure", {"minutes": 4}),)))
    moved = belief.mean - first_belief(ARRAYS).mean
    assert 0 < moved[0] == pytest.approx(moved[1])
    assert moved[0] < moved[2]


def test_an_educator_nobody_knows_leaves_a_doubt_that_marks_cannot_remove():
    """Thirty sets by one unknown educator (standard deviation .5): the level relative to an average educator
    stays unsure by nearly .5 logit, however many marks there are."""
    belief = after(*(set_of([2, 2, 2], 2.0 * n, educator="stranger") for n in range(30)))
    assert np.sqrt(np.diag(belief.spread())) == pytest.approx(
        np.sqrt(np.diag(belief.covariance[:3, :3]) + 0.25), rel=0.1
    )


def test_a_set_without_marks_changes_little_but_counts_as_practice():
    belief = after(set_of([2, 2, 2]))
    again = after_set(belief, SetRecord(3.0, "classic", ()), ARRAYS)
    assert again.sets == 2
    assert again.mean[:3] == pytest.approx(practised(rested(belief, ARRAYS, 3.0), ARRAYS).mean[:3], abs=1e-3)


def test_a_criterion_the_parameters_do_not_know_is_refused_with_advice():
    with pytest.raises(SkillInputError, match="Add it to the parameters, or refit them"):
        after(SetRecord(0.0, "classic", (Grading("sure", {"novel": 2}),)))


@settings(max_examples=20, deadline=None)
@given(st.lists(LEVELS, min_size=1, max_size=12))
def test_nothing_becomes_nan_and_the_covariance_stays_positive(history):
    belief = after(
        *(set_of(levels, 40.0 * n, counts={"sticky": (40, 40)}) for n, levels in enumerate(history))
    )
    assert np.isfinite(belief.mean).all()
    assert np.linalg.eigvalsh(belief.covariance).min() > -1e-9


def test_dynamics_that_stand_still_pool_all_sets():
    """Without wandering, learning, fading and day effects the belief is that of one long set."""
    still = Dynamics(step_common=0, step_own=0, day_common=0, day_own=1e-9, gain=0, gain_variance=0,
                     lead_variance=0, idle_common=0, idle_own=0,
                     fade_days_accuracy=1e9, fade_days_speed=1e9)  # fmt: skip
    arrays = parameter_arrays(
        Parameters(
            "1", SKILLS, CRITERIA, educators=PARAMETERS.educators, briefs=PARAMETERS.briefs, dynamics=still
        )
    )
    apart = beliefs_after_each_set([set_of([3, 1, 2]), set_of([2, 2, 2], 5.0)], arrays)[-1]
    gradings = (
        Grading("sure", dict(zip(NAMES, [3, 1, 2], strict=True))),
        Grading("sure2", dict(zip(NAMES, [2, 2, 2], strict=True))),
    )
    known = parameter_arrays(
        Parameters(
            "1",
            SKILLS,
            CRITERIA,
            educators={"sure": Facet(0, 0), "sure2": Facet(0, 0)},
            briefs=PARAMETERS.briefs,
            dynamics=still,
        )
    )
    together = beliefs_after_each_set([SetRecord(0.0, "classic", gradings)], known)[-1]
    assert apart.mean == pytest.approx(together.mean, abs=0.05)
    assert apart.covariance == pytest.approx(together.covariance, abs=0.02)


def test_a_four_from_an_educator_who_seldom_gives_it_says_more():
    """Both are equally strict on the whole; the first keeps to the middle levels."""
    steps = {"middle": (-1.0, 0.0, 0.0, 1.0), "ends": (1.0, 0.0, 0.0, -1.0)}
    arrays = parameter_arrays(
        replace(PARAMETERS, educators={code: Facet(0, 0, 100, own) for code, own in steps.items()})
    )
    middle, ends = (
        beliefs_after_each_set([set_of([4, 4, 4], educator=code)], arrays)[-1].mean for code in steps
    )
    assert (middle[:3] > ends[:3]).all()


def test_two_educators_of_one_set_are_each_read_by_their_own_steps():
    """Swapping the gradings changes nothing; giving both the same steps does."""
    own = {"a": Facet(0, 0, 1, (-1.0, 0.0, 0.0, 1.0)), "b": Facet(0, 0, 1, (1.0, 0.0, 0.0, -1.0))}
    arrays = parameter_arrays(replace(PARAMETERS, educators=own))
    first, second = Grading("a", {"tidy": 4, "wrap": 0}), Grading("b", {"minutes": 4})

    def mean(*gradings):
        return beliefs_after_each_set([SetRecord(0.0, "classic", gradings)], arrays)[-1].mean

    assert mean(first, second) == pytest.approx(mean(second, first))
    assert mean(first, second) != pytest.approx(mean(first, Grading("c", {"minutes": 4})), abs=0.01)
