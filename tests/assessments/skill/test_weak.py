import numpy as np
import pytest
from scipy.stats import norm

from assessments.skill.arrays import parameter_arrays
from assessments.skill.filter import Belief
from assessments.skill.parameters import Criterion, Parameters, Skill
from assessments.skill.report import Seen, estimates, expected_level
from assessments.skill.weak import gap_draws, weak_skills
from assessments.skill.weakest import SkillTarget

CODES = ("isolation", "wrap", "pace")
ARRAYS = parameter_arrays(
    Parameters("1", tuple(map(Skill, CODES)), tuple(Criterion(code, code) for code in CODES))
)
TARGETS = [SkillTarget(code, code.title(), code == "isolation", 3.0) for code in CODES]


def belief_of(mean, spread, correlation=0.0):
    spread = np.array(spread)
    covariance = np.zeros((5, 5))
    covariance[:3, :3] = np.outer(spread, spread) * (correlation + (1 - correlation) * np.eye(3))
    return Belief(np.array([*mean, 0.5, 0.0]), covariance, np.zeros(5), 5, 0.0)


def compared(belief, seen=(5, 5, 5), targets=TARGETS):
    return weak_skills(belief, ARRAYS, estimates(belief, ARRAYS, [Seen(n, False) for n in seen]), targets)


def chance(report, skill):
    return next(weak.chance_weakest for weak in report.skills if weak.target.skill == skill)


def test_three_equal_skills_have_a_third_each_and_none_is_named():
    """By symmetry."""
    report = compared(belief_of([0, 0, 0], [0.5, 0.5, 0.5]))
    assert [weak.chance_weakest for weak in report.skills] == pytest.approx([1 / 3] * 3, abs=0.02)
    assert report.weakest is None
    assert "No skill can be called the weakest" in report.words


def test_two_skills_by_the_difference_of_two_normals():
    """P(x < y) = Phi((y - x) / sqrt(s^2 + t^2 - 2 r s t)) (textbook; the third skill is out of reach)."""
    report = compared(belief_of([0.0, 0.6, 9.0], [0.5, 0.7, 0.1], 0.4))
    expected = norm.cdf(0.6 / np.sqrt(0.25 + 0.49 - 2 * 0.4 * 0.35))
    assert chance(report, "isolation") == pytest.approx(expected, abs=0.01)
    assert report.weakest == "isolation"
    assert (
        report.words == f"Isolation is the weakest skill, with a chance of {chance(report, 'isolation'):.0%}."
    )


def test_skills_that_move_together_are_easier_to_tell_apart():
    apart, together = (compared(belief_of([0.0, 0.4, 9.0], [0.6, 0.6, 0.1], r)) for r in (0.0, 0.9))
    assert chance(together, "isolation") > chance(apart, "isolation") + 0.1


def test_the_chance_to_be_below_target_is_that_of_the_belief():
    report = compared(belief_of([0.5, 1.2, 3.0], [0.5, 0.5, 0.5]))
    for weak in report.skills:
        place = CODES.index(weak.target.skill)
        grid = np.linspace(-4, 8, 4001)
        line = grid[np.searchsorted(expected_level(grid, place, ARRAYS), 3.0)]
        expected = norm.cdf(line, [0.5, 1.2, 3.0][place], 0.5)
        assert weak.chance_below == pytest.approx(expected, abs=0.01)
        assert weak.gap == pytest.approx(3.0 - weak.estimate.level)


def test_gates_below_target_come_first_then_the_largest_gap():
    report = compared(belief_of([0.9, 0.2, 0.0], [0.3, 0.3, 0.3]))
    assert [weak.target.skill for weak in report.skills] == ["isolation", "pace", "wrap"]


def test_a_skill_without_marks_or_without_a_target_is_not_compared():
    belief = belief_of([0, 0, 0], [0.5, 0.5, 0.5])
    assert [weak.target.skill for weak in compared(belief, (5, 0, 5)).skills] == ["isolation", "pace"]
    assert len(compared(belief, targets=TARGETS[:2]).skills) == 2


def test_one_skill_alone_is_not_called_the_weakest():
    report = compared(belief_of([0, 0, 0], [0.5, 0.5, 0.5]), (5, 0, 0))
    assert (report.weakest, report.words) == (
        None,
        "Only Isolation has marks, so nothing can be called the weakest skill.",
    )


def test_no_marks_at_all_is_said_plainly():
    report = compared(belief_of([0, 0, 0], [0.5, 0.5, 0.5]), (0, 0, 0))
    assert (report.skills, report.weakest, report.words) == ((), None, "No graded sets yet.")


def test_different_targets_are_taken_into_account():
    targets = [
        SkillTarget(code, code, False, level) for code, level in zip(CODES, (1.0, 3.5, 1.0), strict=True)
    ]
    assert compared(belief_of([0, 0.5, 0], [0.3, 0.3, 0.3]), targets=targets).weakest == "wrap"


def test_the_same_belief_gives_the_same_draws():
    belief = belief_of([0, 0.5, 1], [0.5, 0.4, 0.3], 0.3)
    draws = [gap_draws(belief, ARRAYS, (0, 1, 2), (3.0, 3.0, 3.0)) for _ in range(2)]
    assert np.array_equal(*draws)
