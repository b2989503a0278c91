"""Severity in levels and words: against direct averaging of expected marks, and on made marks."""

import numpy as np
import pytest

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.facets import FacetMarks, fit_facets
from assessments.scoring.severity import scatter_words, severities, severities_by_criterion
from tests.assessments.scoring.test_facets import levels_of, marks_of


def named(levels, educators=("Ines", "Omar", "Wren"), criteria=("isolation", "placement"), keep=None):
    marks = marks_of(levels, keep)
    return FacetMarks(marks.work, marks.educator, marks.criterion, marks.level, educators, criteria)


@pytest.fixture(scope="module")
def strict():
    """Ines is .9 logits stricter than the other two."""
    return named(levels_of(1, works=120, severity=[0.6, -0.3, -0.3], educators=3, criteria=2)[0])


def test_a_strict_educator_is_said_to_mark_so_many_levels_lower(strict):
    ines, omar, wren = severities(fit_facets(strict))
    assert ines.low < ines.levels < ines.high < 0
    assert ines.words == (
        f"Ines marks {-ines.levels:.1f} levels lower than the average educator "
        f"(90 % interval {-ines.high:.1f} to {-ines.low:.1f})."
    )
    assert omar.levels > 0
    assert wren.levels > 0


def test_levels_are_the_plain_difference_of_means_when_all_mark_the_same_sets(strict):
    # Complete design: the average mark of Ines less the average of all three (arithmetic, within .05).
    found = severities(fit_facets(strict))
    means = np.array([strict.level[strict.educator == place].mean() for place in range(3)])
    assert [finding.levels for finding in found] == pytest.approx(means - means.mean(), abs=0.05)


def test_each_criterion_gets_its_own_finding():
    levels = levels_of(2, works=150, severity=[0.0, 0.0, 0.0], educators=3, criteria=2)[0]
    levels[:, 0, 0] = np.maximum(levels[:, 0, 0] - 1, 0)
    found = severities_by_criterion(named(levels))
    assert [(finding.criterion, finding.educator) for finding in found][:3] == [
        ("isolation", "Ines"),
        ("isolation", "Omar"),
        ("isolation", "Wren"),
    ]
    assert found[0].words.startswith("Ines marks isolation 0.")
    assert "levels lower than the average educator" in found[0].words
    assert found[3].words.startswith("Ines marks placement about as the average educator does")


def test_intervals_hold_the_true_difference_about_nine_times_in_ten():
    # 60 educator-fits at 90 %: 46 or fewer come up about once in 700 (binomial).
    inside = 0
    for seed in range(20):
        levels, truth = levels_of(seed, works=60, educators=3, criteria=3)
        fit = fit_facets(marks_of(levels))
        half = 1.645 * np.sqrt(np.diag(fit.severity_cov))
        inside += int((np.abs(fit.severity - truth) <= half).sum())
    assert inside > 46


def test_few_marks_are_provisional_and_too_wide_an_interval_is_not_called_alike():
    found = severities(fit_facets(named(levels_of(3, works=2, educators=3, criteria=2)[0])))
    assert {finding.status for finding in found} == {"provisional"}
    assert all(finding.words.endswith("Provisional, from 4 marks.") for finding in found)
    assert any("neither clearly lower nor clearly higher" in finding.words for finding in found)


def test_an_educator_alone_gets_no_figure():
    levels = levels_of(4, works=40, educators=3, criteria=2)[0]
    keep = np.zeros(levels.shape, bool)
    keep[:20, :2] = True
    keep[20:, 2] = True
    found = severities(fit_facets(named(levels, keep=keep)))
    assert (found[2].levels, found[2].status) == (None, "one_educator")
    assert found[2].words.startswith("No other educator has marked the sets of Wren")
    # Within the group of two the severities are mirror images.
    assert found[0].levels == pytest.approx(-found[1].levels, abs=0.03)


def test_an_educator_without_marks_is_said_to_have_none():
    levels = levels_of(5, works=40, educators=3, criteria=2)[0]
    keep = np.ones(levels.shape, bool)
    keep[:, 2] = False
    found = severities(fit_facets(named(levels, keep=keep)), criterion="isolation")
    assert (found[2].levels, found[2].status) == (None, "no_data")
    assert found[2].words == "Wren has not marked isolation yet."


def test_odd_scatter_is_told_in_words():
    levels = levels_of(6, works=200)[0]
    assert scatter_words(fit_facets(marks_of(levels))) == ()
    levels[:, 1] = np.random.default_rng(1).integers(0, 5, levels[:, 1].shape)
    (sentence,) = scatter_words(fit_facets(marks_of(levels)))
    assert sentence.startswith("E1 gives like work unlike levels: the marks scatter")


def test_a_confidence_that_cannot_be_is_refused(strict):
    with pytest.raises(ScoringInputError, match="between 0 and 1"):
        severities(fit_facets(strict), confidence=90)
