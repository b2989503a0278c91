"""The drawing of figures: inside its frame, honest about what is missing, and read aloud in words."""

import re

import pytest
from django.template import Context, Template

from assessments.scoring.agreement_report import CriterionAgreement, EducatorFinding, Figure
from assessments.templatetags.agreement import KAPPA, SEVERITY, interval, two

NOTHING = Figure(None, None, None)


def criterion(kappa: Figure, *, indicative: bool = False) -> CriterionAgreement:
    return CriterionAgreement("wrap", "Wrap & base", 12, 0.8, 1.0, kappa, NOTHING, NOTHING, indicative, "")


def drawn(tag: str, *rows) -> str:
    return Template(f"{{% load agreement %}}{{% {tag} rows %}}").render(Context({"rows": rows}))


def test_chance_and_full_agreement_stand_where_the_scale_says():
    # 320 units wide, 10 left free at each end; from -0.25 to 1, so chance is a fifth of the way.
    assert (KAPPA.at(-0.25), KAPPA.at(0), KAPPA.at(1)) == (10.0, 70.0, 310.0)
    assert SEVERITY.at(0) == 160.0


@pytest.mark.parametrize(("value", "end"), [(-0.9, 10.0), (3.0, 310.0)])
def test_what_lies_beyond_the_scale_is_drawn_at_its_end(value: float, end: float):
    assert KAPPA.at(value) == end


def test_dot_bar_and_words_agree():
    picture = drawn("kappa_plot", criterion(Figure(0.5, 0.25, 0.75)))
    assert 'cx="190.0"' in picture and 'x="130.0"' in picture and 'width="120.0"' in picture
    assert 'aria-label="Wrap &amp; base: agreement beyond chance 0.50, 90 % interval 0.25 to 0.75"' in picture


def test_few_sets_draw_a_hollow_dot_and_no_figure_draws_none():
    assert "interval-plot-faint" in drawn("kappa_plot", criterion(Figure(0.5, 0.2, 0.8), indicative=True))
    empty = drawn("kappa_plot", criterion(NOTHING))
    assert not re.search(r"<(circle|rect)", empty) and "no figure yet" in empty


def test_a_figure_without_an_interval_has_no_bar():
    picture = drawn("kappa_plot", criterion(Figure(0.5, None, None)))
    assert "<circle" in picture and "<rect" not in picture


def test_severity_is_drawn_in_levels():
    ines = EducatorFinding("Ines", 40, Figure(-0.75, -1.0, -0.5), "", "", "", "")
    picture = drawn("severity_plot", ines)
    assert 'cx="85.0"' in picture and "levels from the average −0.75" in picture


@pytest.mark.parametrize(("value", "text"), [(None, "–"), (0.5, "0.50"), (-0.126, "−0.13"), (-0.001, "0.00")])
def test_figures_have_two_decimals_and_a_real_minus(value, text: str):
    assert two(value) == text


def test_an_interval_needs_both_ends():
    assert interval(Figure(0.1, -0.2, 0.4)) == "−0.20 to 0.40"
    assert interval(Figure(0.1, None, 0.4)) == "–"
