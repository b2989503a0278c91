"""As long as an academy has no fitted figures nobody is corrected, and pages can say so."""

from assessments.selectors.corrections import correction_of
from tests.factories.academy import Cast


def test_an_academy_without_figures_corrects_nobody(cast: Cast):
    assert not correction_of(cast.academy).is_known
