"""As long as an academy has no fitted figures nobody is corrected, and pages can say so; then all are."""

import json

from assessments.models import ParameterVersion
from assessments.scoring.corrections import Judged
from assessments.selectors.corrections import correction_of
from assessments.skill.parameters import Facet, Parameters
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED

RATES = (0.05, 0.15)


def test_an_academy_without_figures_corrects_nobody(cast: Cast):
    assert not correction_of(cast.academy).is_known


def test_a_strict_educator_and_a_hard_brief_make_fails_likelier_and_a_mild_one_rarer(cast: Cast):
    fitted = Parameters(
        "parameters-1",
        (),
        (),
        educators={"11": Facet(0.5), "12": Facet(-0.5)},
        briefs={"21": Facet(0.3), "22": Facet(-0.3)},
    )
    ParameterVersion.objects.create(
        academy=cast.academy,
        number=1,
        parameters=json.loads(fitted.to_json()),
        sets=1,
        students=1,
        made_at=STARTED,
    )
    correction = correction_of(cast.academy)
    assert correction.is_known
    shifts = [correction.shift(Judged(who, what, 2), RATES) for who, what in ((11, 21), (11, 99), (99, 99))]
    assert shifts[0] > shifts[1] > shifts[2] == 0
    assert correction.shift(Judged(12, 22, 2), RATES) < 0
    assert correction.shift(Judged(11, 21, 0), RATES) == 0  # a skill without a gate mark cannot fail
    assert not correction_of(cast.omar.academy).is_known
