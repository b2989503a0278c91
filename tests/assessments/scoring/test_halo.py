"""The halo check: correlations against numpy, and marks made with and without a general impression."""

import numpy as np
import pytest

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.halo import SetMarks, halo_check


def made(impression, seed=1, students=40, sets=6, criteria=5):
    """Four educators; `Ines` adds a general impression of that many levels to all marks of a set."""
    rng = np.random.default_rng(seed)
    student = np.repeat(np.arange(students), sets)
    educator = np.array(["Ines", "Omar", "Wren", "Lio"])[rng.integers(0, 4, student.size)]
    marks = rng.normal(0, 0.8, (student.size, criteria))
    marks += np.where(educator == "Ines", rng.normal(0, impression, student.size), 0.0)[:, None]
    return SetMarks(marks, educator, student.astype(str))


def check(given, educator="Ines", **options):
    return halo_check(given, educator, rng=np.random.default_rng(2), draws=400, **options)


def test_the_two_figures_are_mean_pearson_correlations_over_pairs_of_criteria():
    given = made(0.5)
    found = check(given)
    for side, figure in ((given.educator == "Ines", found.own), (given.educator != "Ines", found.others)):
        table = np.corrcoef(given.marks[side].T)
        assert figure == pytest.approx(table[np.triu_indices(5, 1)].mean(), abs=1e-9)


def test_missing_marks_leave_each_pair_of_criteria_with_the_sets_that_have_both():
    given = made(0.5)
    marks = given.marks.copy()
    marks[::7, 2] = np.nan
    found = check(SetMarks(marks, given.educator, given.student))
    mine = marks[given.educator == "Ines"]
    pairs = [
        np.corrcoef(mine[~np.isnan(mine[:, [a, b]]).any(axis=1)][:, [a, b]].T)[0, 1]
        for a, b in zip(*np.triu_indices(5, 1), strict=True)
    ]
    assert found.own == pytest.approx(np.mean(pairs), abs=1e-9)


def test_a_general_impression_is_found_and_only_in_the_educator_who_has_it():
    given = made(0.9)
    found = check(given)
    assert found.status == "halo"
    assert 0 < found.low < found.excess < found.high
    assert found.words.startswith("The marks of Ines move together across criteria more than those")
    assert "mark one criterion at a time" in found.words
    assert [check(given, name).status for name in ("Omar", "Wren", "Lio")] == ["no_halo"] * 3


def test_marks_without_an_impression_raise_the_alarm_rarely():
    # A one-sided 5 % alarm (half of the 90 % interval's miss): 5 or more of 20 by chance, once in 390.
    assert sum(check(made(0.0, seed)).status == "halo" for seed in range(20)) < 5


def test_too_few_sets_or_a_single_criterion_are_an_answer():
    few = check(made(0.5, students=2, sets=4))
    assert (few.status, few.own) == ("no_data", None)
    assert "it needs at least 10 sets from Ines and from the others" in few.words
    assert "two criteria or more" in check(made(0.5, criteria=1)).words


def test_marks_that_never_vary_give_no_figure_and_no_nan():
    given = made(0.0)
    found = check(SetMarks(np.full_like(given.marks, 3.0), given.educator, given.student))
    assert (found.status, found.excess, found.low) == ("no_data", None, None)


def test_rows_that_do_not_match_are_refused():
    with pytest.raises(ScoringInputError, match="Every set needs"):
        SetMarks(np.zeros((3, 2)), np.array(["Ines"]), np.array(["a", "b", "c"]))
    with pytest.raises(ScoringInputError, match="not a number"):
        SetMarks(np.full((1, 2), np.inf), np.array(["Ines"]), np.array(["a"]))
