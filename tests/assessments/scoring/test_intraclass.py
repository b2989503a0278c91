"""The six intraclass correlations against Shrout and Fleiss 1979 and against pingouin."""

from warnings import catch_warnings, simplefilter

import numpy as np
import pytest

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.intraclass import icc

# P. E. Shrout and J. L. Fleiss, Psychological Bulletin 86 (1979) 420-428: 6 targets (rows), 4 judges.
SHROUT_FLEISS = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]


def test_mean_squares_and_coefficients_match_the_two_decimals_of_shrout_and_fleiss():
    # MEM, tol .005 on the published two decimals.
    found = icc(SHROUT_FLEISS)
    squares = found.squares
    assert (squares.between, squares.within) == pytest.approx((11.24, 6.26), abs=0.005)
    assert (squares.educators, squares.left) == pytest.approx((32.49, 1.02), abs=0.005)
    published = {"1,1": 0.17, "2,1": 0.29, "3,1": 0.71, "1,k": 0.44, "2,k": 0.62, "3,k": 0.91}
    assert {name: form.value for name, form in found.forms.items()} == pytest.approx(published, abs=0.005)


def test_coefficients_and_intervals_match_the_full_precision_row():
    # CALC (pingouin and own formula), tol 1e-4; not published to this precision.
    forms = icc(SHROUT_FLEISS, confidence=0.95).forms
    values = [forms[name].value for name in ("1,1", "2,1", "3,1", "1,k", "2,k", "3,k")]
    assert values == pytest.approx([0.1657, 0.2898, 0.7148, 0.4428, 0.6201, 0.9093], abs=1e-4)
    for name, low, high in (("1,1", -0.1329, 0.7226), ("2,1", 0.0188, 0.7611), ("3,1", 0.3425, 0.9459)):
        assert (forms[name].low, forms[name].high) == pytest.approx((low, high), abs=1e-4)


def test_all_six_forms_match_pingouin_on_its_wine_data():
    # CALC, tol 1e-4: .7275 .7277 .7295 / .9144 .9145 .9152; intervals as pingouin prints them, 2 decimals.
    with catch_warnings():
        simplefilter("ignore")  # its plotting imports warn; only its arithmetic is wanted
        import pingouin

        data = pingouin.read_dataset("icc")
        other = pingouin.intraclass_corr(data, targets="Wine", raters="Judge", ratings="Scores")
    found = icc(data.pivot(index="Wine", columns="Judge", values="Scores"), confidence=0.95)
    names = ["1,1", "2,1", "3,1", "1,k", "2,k", "3,k"]
    values = [found.forms[name].value for name in names]
    assert values == pytest.approx([0.7275, 0.7277, 0.7295, 0.9144, 0.9145, 0.9152], abs=1e-4)
    assert values == pytest.approx(other["ICC"].tolist(), abs=1e-9)
    column = next(name for name in other.columns if name.startswith("CI95"))
    for name, (low, high) in zip(names, other[column], strict=True):
        assert (found.forms[name].low, found.forms[name].high) == pytest.approx((low, high), abs=0.0051)


def test_an_educator_who_is_always_one_level_lower_costs_absolute_agreement_but_not_consistency():
    rng = np.random.default_rng(1)
    first = rng.integers(1, 5, 20)
    forms = icc(np.column_stack([first, first - 1])).forms
    assert forms["3,1"].value == 1.0
    assert forms["2,1"].value < 0.9
    assert icc(np.column_stack([first, first])).forms["2,1"].value == 1.0


def test_incomplete_sets_are_left_out_while_ten_complete_ones_remain():
    rng = np.random.default_rng(2)
    table = rng.integers(0, 5, (12, 3)).astype(float)
    holed = np.vstack([table, [[1, np.nan, 2]]])
    assert icc(holed).forms == icc(table).forms
    few = icc(holed[4:])
    assert (few.status, few.forms) == ("incomplete", None)
    assert "use alpha, which allows missing marks" in few.words


def test_too_little_to_compare_is_an_answer_with_a_sentence():
    assert icc([[1], [2]]).words == "Only one educator has marked. Ask for second marks."
    assert icc([[1, 2]]).status == "no_data"
    assert icc([[2, 2], [2, 2]]).status == "undefined"
    assert icc([[0, 1], [2, 2], [3, 3]]).words.endswith(
        "Too few double-marked sets (3); agreement is only indicative."
    )


def test_sets_that_do_not_differ_give_no_mean_figure_rather_than_an_endless_one():
    found = icc([[1, 2], [2, 1], [1, 2]])
    assert found.forms["1,k"].value is None
    assert found.forms["1,1"].value == pytest.approx(-1.0)


def test_the_sentence_names_sets_educators_and_the_interval():
    found = icc(np.repeat(SHROUT_FLEISS, 2, axis=0))
    assert "On 12 sets marked by 4 educators" in found.words
    assert "90 % interval" in found.words


def test_a_flat_list_or_an_endless_mark_is_refused():
    with pytest.raises(ScoringInputError, match="one row a set"):
        icc([1, 2, 3])
    with pytest.raises(ScoringInputError, match="not a number"):
        icc([[1, np.inf], [2, 2]])
