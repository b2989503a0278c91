import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from assessments.skill.arrays import parameter_arrays
from assessments.skill.filter import beliefs_after_each_set
from assessments.skill.interface import AT_CEILING, NO_DATA, OK, PROVISIONAL
from assessments.skill.observations import Grading, SetRecord
from assessments.skill.parameters import CountScale, Criterion, Facet, Parameters, Skill
from assessments.skill.report import estimates, expected_level, level_with_interval, seen_by_skill

PARAMETERS = Parameters(
    "1",
    (Skill("isolation"), Skill("wrap"), Skill("bare")),
    (
        Criterion("sticky", "isolation", count=CountScale(at_most=(0, 1, 2, 6))),
        Criterion("wrap-a", "wrap", -0.5),
        Criterion("wrap-b", "wrap", 0.5),
    ),
    educators={"ines": Facet(0.0, 0.01)},
    briefs={"b": Facet(0.0, 0.01)},
)
ARRAYS = parameter_arrays(PARAMETERS)


def sets_of(*levels, faults=None):
    return [
        SetRecord(
            2.0 * n,
            "b",
            (
                Grading(
                    "ines",
                    {"wrap-a": level, "wrap-b": level},
                    {} if faults is None else {"sticky": (faults, 40)},
                ),
            ),
        )
        for n, level in enumerate(levels)
    ]


def reported(sets):
    return estimates(beliefs_after_each_set(sets, ARRAYS)[-1], ARRAYS, seen_by_skill(sets, ARRAYS))


def test_the_scale_of_levels_runs_from_0_to_4_and_rises():
    for skill in range(3):
        levels = expected_level(np.linspace(-12, 12, 49), skill, ARRAYS)
        assert (np.diff(levels) > 0).all() or skill == 0
        assert (np.diff(levels) >= 0).all()
        assert -0.01 < levels[0] < 0.4
        assert 3.4 < levels[-1] < 4.01


def test_a_symmetric_scale_has_its_middle_where_ability_meets_it():
    """Thresholds -t, -s, s, t: at eta 0 the expected level is 2 by symmetry; here of two offsets around 0."""
    arrays = parameter_arrays(Parameters("1", PARAMETERS.skills, PARAMETERS.criteria, (-2, -0.6, 0.6, 2)))
    assert expected_level(np.zeros(1), 1, arrays) == pytest.approx([2.0])


def test_the_level_is_the_mean_over_the_belief_and_the_interval_holds_90_percent():
    """Oracle: scipy.integrate.quad (CALC)."""
    mean, spread = np.array(0.4), np.array(0.8)
    level, low, high = level_with_interval(mean, spread, 1, ARRAYS)
    expected = quad(lambda x: norm.pdf(x, 0.4, 0.8) * float(expected_level(np.array(x), 1, ARRAYS)), -6, 7)[0]
    assert level == pytest.approx(expected, abs=1e-5)
    ends = [float(expected_level(np.array(norm.ppf(q, 0.4, 0.8)), 1, ARRAYS)) for q in (0.05, 0.95)]
    assert [float(low), float(high)] == pytest.approx(ends)


def test_a_skill_nobody_marked_has_no_figure():
    isolation, wrap, bare = reported(sets_of(2, 2, 3))
    assert (isolation.status, isolation.level, bare.status) == (NO_DATA, None, NO_DATA)
    assert isolation.words == "No graded sets yet."
    assert (wrap.status, wrap.sets) == (OK, 3)


def test_one_set_is_provisional_and_wide():
    one, many = reported(sets_of(2))[1], reported(sets_of(2, 2, 2, 2, 2, 2))[1]
    assert one.status == PROVISIONAL
    assert "from 1 graded set; provisional" in one.words
    assert one.high - one.low > many.high - many.low


def test_marks_that_are_all_the_best_say_so_and_stay_on_the_scale():
    isolation, wrap, _ = reported(sets_of(4, 4, 4, 4, faults=0))
    assert wrap.status == isolation.status == AT_CEILING
    assert wrap.low < wrap.level < wrap.high < 4
    assert "cannot show how much higher" in wrap.words


def test_one_fault_is_not_the_ceiling():
    assert reported(sets_of(4, 4, 4, faults=1))[0].status == OK


def test_sentences_fit_where_they_are_kept():
    for sets in (sets_of(2), sets_of(4, 4, 4, faults=0), sets_of(*[0] * 120)):
        assert all(len(estimate.words) <= 240 for estimate in reported(sets))
