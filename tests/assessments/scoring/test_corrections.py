"""The door to severities: nobody is corrected without figures, and with them both facets add up."""

import pytest

from assessments.scoring.adjustment import fail_shift
from assessments.scoring.corrections import Judged, NoCorrection, SeverityCorrection

RATES = (0.10, 0.50)
STEPS = (-1.9, -0.65, 0.6, 1.95)


def test_without_figures_everybody_counts_as_average_and_the_page_can_tell():
    assert NoCorrection().shift(Judged(1, 2, 2), RATES) == 0
    assert not NoCorrection().is_known


def test_educator_and_brief_add_up_on_the_marking_scale():
    found = SeverityCorrection({1: 0.4}, {2: 0.3}, STEPS)
    assert found.shift(Judged(1, 2, 2), RATES) == pytest.approx(fail_shift(0.7, STEPS, cut=2, rates=RATES))
    assert found.is_known


def test_a_lenient_educator_makes_fails_rarer_and_a_strict_one_likelier():
    found = SeverityCorrection({1: -1.0, 2: 1.0}, {}, STEPS)
    assert found.shift(Judged(1, 9, 2), RATES) < 0 < found.shift(Judged(2, 9, 2), RATES)


def test_somebody_not_listed_counts_as_average():
    assert SeverityCorrection({1: 0.4}, {}, STEPS).shift(Judged(7, 7, 2), RATES) == 0
