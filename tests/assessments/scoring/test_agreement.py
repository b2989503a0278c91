"""Kappas against published worked examples and general statistics libraries.

MEM = printed value from memory, reproduced by formula; CALC = computed by another library.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.agreement import cohen_kappa, few_words, fleiss_kappa
from assessments.scoring.evidence import ScoringInputError


def marks_of(table):
    """Two lists of marks from a table of counts by (first, second) level."""
    table = np.asarray(table)
    rows, columns = np.indices(table.shape)
    return np.repeat(rows.ravel(), table.ravel()).tolist(), np.repeat(columns.ravel(), table.ravel()).tolist()


# J. Cohen, Educational and Psychological Measurement 20 (1960) 37-46: 3x3 table, n = 200, MEM, tol 1e-3;
# the 2x2 tables are the usual textbook ones, MEM, tol 1e-4.
COHEN = [
    ([[20, 5], [10, 15]], 0.40, 1e-4),
    ([[45, 15], [25, 15]], 0.1304, 1e-4),
    ([[25, 35], [5, 35]], 0.2593, 1e-4),
    ([[88, 14, 18], [10, 40, 10], [2, 6, 12]], 0.492, 1e-3),
]


@pytest.mark.parametrize(("table", "kappa", "tolerance"), COHEN)
def test_unweighted_kappa_matches_the_published_tables(table, kappa, tolerance):
    found = cohen_kappa(*marks_of(table), weights="unweighted", levels=range(len(table)))
    assert found.kappa == pytest.approx(kappa, abs=tolerance)


def test_both_standard_errors_of_the_textbook_table_are_those_of_fleiss_cohen_everitt():
    # 2x2 table [[20, 5], [10, 15]]: se .1270, se under no agreement .1386, MEM, tol 1e-4.
    found = cohen_kappa(*marks_of([[20, 5], [10, 15]]), weights="unweighted", levels=(0, 1))
    assert found.error == pytest.approx(0.1270, abs=1e-4)
    assert found.chance_error == pytest.approx(0.1386, abs=1e-4)


# CALC: scikit-learn 1.9.1 cohen_kappa_score; not published numbers.
@pytest.mark.parametrize(
    ("weights", "kappa"), [("unweighted", 0.4915), ("linear", 0.4737), ("quadratic", 0.4545)]
)
def test_weighted_kappas_match_the_computed_row(weights, kappa):
    table = [[44, 5, 1], [7, 20, 3], [9, 5, 6]]
    found = cohen_kappa(*marks_of(table), weights=weights, levels=range(3))
    assert found.kappa == pytest.approx(kappa, abs=5e-5)


@pytest.mark.parametrize("weights", ["unweighted", "linear", "quadratic"])
def test_kappa_and_its_errors_match_statsmodels_and_scikit_learn_on_random_marks(weights):
    from sklearn.metrics import cohen_kappa_score
    from statsmodels.stats.inter_rater import cohens_kappa  # type: ignore[import-untyped]

    rng = np.random.default_rng(4)
    first = rng.integers(0, 5, 80)
    second = np.clip(first + rng.integers(-1, 2, 80), 0, 4)
    table = np.zeros((5, 5))
    np.add.at(table, (first, second), 1)
    found = cohen_kappa(first.tolist(), second.tolist(), weights=weights)
    plain = None if weights == "unweighted" else weights
    other = cohens_kappa(table, wt=plain)
    assert found.kappa == pytest.approx(cohen_kappa_score(first, second, weights=plain), abs=1e-12)
    assert found.error == pytest.approx(other.std_kappa, abs=1e-12)
    assert found.chance_error == pytest.approx(other.std_kappa0, abs=1e-12)


def test_raw_agreement_is_counted_beside_kappa():
    found = cohen_kappa([0, 1, 2, 3, 4, 4, 2, 1, 0, 3], [0, 1, 2, 3, 4, 3, 3, 0, 2, 0])
    assert (found.same, found.within_one) == pytest.approx((0.5, 0.8))
    assert "10 double-marked sets" in found.words
    assert "the same level 50 % of the time" in found.words
    assert "at most one level apart 80 % of the time" in found.words


@settings(max_examples=40)
@given(st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)), min_size=1, max_size=30))
def test_figures_are_finite_or_absent_and_do_not_depend_on_who_is_named_first(pairs):
    first, second = [list(side) for side in zip(*pairs, strict=True)]
    found, turned = cohen_kappa(first, second), cohen_kappa(second, first)
    if found.kappa is None:
        assert turned.kappa is None
        assert found.status == "undefined"
        return
    assert found.kappa == pytest.approx(turned.kappa)
    assert -1 <= found.low <= found.high <= 1
    assert np.isfinite([found.kappa, found.error, found.chance_error]).all()


def test_a_single_level_from_both_leaves_kappa_undefined_and_says_so():
    found = cohen_kappa([3] * 12, [3] * 12)
    assert (found.kappa, found.low, found.status) == (None, None, "undefined")
    assert found.words.endswith(
        "Both educators used a single level; kappa is undefined (raw agreement 100 %)."
    )


def test_few_double_marked_sets_are_only_indicative():
    found = cohen_kappa([0, 1, 2], [0, 1, 3])
    assert found.status == "indicative"
    assert found.words.endswith("Too few double-marked sets (3); agreement is only indicative.")
    assert few_words(10) == ""


def test_no_double_marked_set_is_an_answer_that_says_what_to_do():
    found = cohen_kappa([], [])
    assert (found.status, found.words) == (
        "no_data",
        "No set has marks from both educators yet. Ask for a second mark.",
    )


@pytest.mark.parametrize(
    ("first", "second", "options", "code"),
    [
        ([5], [0], {}, "level_out_of_range"),
        ([1, 2], [1], {}, "marks_of_different_length"),
        ([1], [1], {"weights": "cubic"}, "unknown_weights"),
        ([1], [1], {"confidence": 1.0}, "confidence_out_of_range"),
    ],
)
def test_impossible_input_is_refused_with_a_sentence(first, second, options, code):
    with pytest.raises(ScoringInputError) as caught:
        cohen_kappa(first, second, **options)
    assert caught.value.code == code
    assert caught.value.message.endswith(".")


# J. L. Fleiss, Psychological Bulletin 76 (1971) 378-382: 30 patients, 6 raters, 5 diagnoses. MEM, tol .0006.
_PATIENTS = (
    "00060 03003 01401 00006 03030 20400 00402 20310 20040 00006 10050 11040 03300 10050 02031 "
    "00501 30012 51000 02040 10203 00006 01050 02013 20040 10041 05010 40002 02040 10500 00006"
)
FLEISS_1971 = [[int(digit) for digit in row] for row in _PATIENTS.split()]


def test_fleiss_kappa_matches_the_figures_of_fleiss_1971():
    found = fleiss_kappa(FLEISS_1971)
    assert found.same == pytest.approx(0.5556, abs=6e-4)
    assert found.kappa == pytest.approx(0.430, abs=6e-4)
    assert found.chance_error == pytest.approx(0.0244, abs=6e-4)
    assert found.by_level == pytest.approx((0.245, 0.245, 0.520, 0.471, 0.566), abs=6e-4)
    assert found.low < 0.430 < found.high


def test_fleiss_kappa_matches_statsmodels_on_random_counts():
    from statsmodels.stats.inter_rater import fleiss_kappa as other

    table = np.random.default_rng(5).multinomial(4, [0.1, 0.2, 0.4, 0.2, 0.1], size=25)
    assert fleiss_kappa(table).kappa == pytest.approx(other(table), abs=1e-12)


def test_the_jackknife_error_is_that_of_leaving_each_set_out_in_turn():
    table = np.asarray(FLEISS_1971)
    without = [fleiss_kappa(np.delete(table, row, axis=0)).kappa for row in range(30)]
    by_hand = np.sqrt(29 / 30 * ((np.asarray(without) - np.mean(without)) ** 2).sum())
    assert fleiss_kappa(table).error == pytest.approx(by_hand, rel=1e-9)


def test_fleiss_kappa_leaves_out_single_marks_and_points_to_alpha_when_marks_are_unequal():
    assert fleiss_kappa([[1, 0], [2, 0], [1, 1]]).sets == 2
    unequal = fleiss_kappa([[2, 0], [2, 1]])
    assert (unequal.status, unequal.kappa) == ("unequal", None)
    assert "use alpha" in unequal.words
    assert fleiss_kappa([[1, 0]]).status == "no_data"
    assert fleiss_kappa([[2, 0], [2, 0]]).status == "undefined"


def test_counts_below_zero_are_refused():
    with pytest.raises(ScoringInputError, match="cannot be below zero"):
        fleiss_kappa([[-1, 3]])
