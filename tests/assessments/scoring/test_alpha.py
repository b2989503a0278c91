"""Krippendorff's alpha against his worked examples, a separate library and a bootstrap done by hand."""

import numpy as np
import pytest

from assessments.scoring.alpha import krippendorff_alpha
from assessments.scoring.evidence import ScoringInputError


def table_of(*rows):
    return [[np.nan if mark == "*" else float(mark) for mark in row.split()] for row in rows]


# K. Krippendorff, "Computing Krippendorff's alpha-reliability", example C. Data SEEN, values MEM, tol 6e-4.
EXAMPLE_C = table_of(
    "1 2 3 3 2 1 4 1 2 * * *",
    "1 2 3 3 2 2 4 1 2 5 * 3",
    "* 3 3 3 2 3 4 2 2 5 1 *",
    "1 2 3 3 2 4 4 1 2 5 1 *",
)
# Examples A and B of the same text, MEM.
EXAMPLE_A = table_of("0 1 0 0 0 0 0 0 1 0", "1 1 1 0 0 1 0 0 0 0")
EXAMPLE_B = [[ord(mark) for mark in row] for row in ("aabbdcccedda", "babbbccceddd")]


@pytest.mark.parametrize(
    ("measure", "alpha"), [("nominal", 0.743), ("ordinal", 0.815), ("interval", 0.849), ("ratio", 0.797)]
)
def test_four_measures_match_krippendorffs_example_with_missing_marks(measure, alpha):
    assert krippendorff_alpha(EXAMPLE_C, measure=measure).alpha == pytest.approx(alpha, abs=6e-4)


@pytest.mark.parametrize(("table", "alpha"), [(EXAMPLE_A, 0.095), (EXAMPLE_B, 0.692)])
def test_nominal_alpha_matches_krippendorffs_two_coder_examples(table, alpha):
    assert krippendorff_alpha(table, measure="nominal").alpha == pytest.approx(alpha, abs=6e-4)


@pytest.mark.parametrize("measure", ["nominal", "ordinal", "interval", "ratio"])
def test_alpha_matches_the_krippendorff_library_on_random_marks(measure):
    import krippendorff

    rng = np.random.default_rng(6)
    truth = rng.integers(0, 5, 30)
    marks = np.clip(truth + rng.integers(-1, 2, (4, 30)), 0, 4).astype(float)
    marks[rng.random(marks.shape) < 0.3] = np.nan
    other = krippendorff.alpha(reliability_data=marks, level_of_measurement=measure)
    assert krippendorff_alpha(marks, measure=measure).alpha == pytest.approx(other, abs=1e-12)


def test_the_interval_is_the_percentile_bootstrap_over_sets():
    rng = np.random.default_rng(7)
    truth = rng.integers(0, 5, 40)
    marks = np.clip(truth + rng.integers(-1, 2, (3, 40)), 0, 4).astype(float)
    found = krippendorff_alpha(marks, rng=np.random.default_rng(1), draws=2000)
    picks = np.random.default_rng(2).integers(0, 40, (600, 40))
    by_hand = [krippendorff_alpha(marks[:, pick]).alpha for pick in picks]
    assert (found.low, found.high) == pytest.approx(np.quantile(by_hand, [0.05, 0.95]), abs=0.02)
    assert found.low < found.alpha < found.high


def test_the_same_generator_gives_the_same_interval_and_none_gives_no_interval():
    one, two = (krippendorff_alpha(EXAMPLE_C, rng=np.random.default_rng(3)) for _ in range(2))
    assert (one.low, one.high) == (two.low, two.high)
    assert krippendorff_alpha(EXAMPLE_C).low is None


def test_sets_with_one_mark_count_for_nothing():
    alone = [[*row, 3.0 if place == 0 else np.nan] for place, row in enumerate(EXAMPLE_C)]
    assert krippendorff_alpha(alone) == krippendorff_alpha(EXAMPLE_C)
    assert krippendorff_alpha(EXAMPLE_C).units == 11


def test_raw_agreement_stands_beside_alpha_in_the_sentence():
    found = krippendorff_alpha([[0, 1, 2, 3], [0, 1, 3, 1]])
    assert (found.same, found.within_one) == (0.5, 0.75)
    assert "On 4 double-marked sets two educators gave the same level 50 % of the time" in found.words
    assert found.words.endswith("Too few double-marked sets (4); agreement is only indicative.")


def test_a_single_level_or_no_pair_is_an_answer_not_an_error():
    single = krippendorff_alpha([[2] * 12, [2] * 12], rng=np.random.default_rng(0))
    assert (single.alpha, single.low, single.status) == (None, None, "undefined")
    assert "alpha is undefined (raw agreement 100 %)" in single.words
    empty = krippendorff_alpha([[1, np.nan], [np.nan, 2]])
    assert (empty.units, empty.status) == (0, "no_data")


@pytest.mark.parametrize(
    ("table", "measure", "code"),
    [
        ([[1, 2]], "cardinal", "unknown_measure"),
        ([1, 2], "ordinal", "not_a_table"),
        ([[1, np.inf]], "ordinal", "bad_level"),
        ([[-1, 2]], "ratio", "negative_level"),
    ],
)
def test_impossible_input_is_refused_with_a_sentence(table, measure, code):
    with pytest.raises(ScoringInputError) as caught:
        krippendorff_alpha(table, measure=measure)
    assert caught.value.code == code
    assert caught.value.message.endswith(".")
