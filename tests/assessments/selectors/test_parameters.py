"""What is held fixed: the newest version, its model, and severities told in levels."""

import json
from datetime import timedelta

import pytest

from academy.models import Academy
from assessments.models import ParameterVersion
from assessments.selectors.parameters import newest_parameters, parameters_in, severities, skill_model
from assessments.skill.parameters import Facet, Parameters
from courses.models import Skill
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED


def keep(academy: Academy, number: int, **educators: Facet) -> ParameterVersion:
    made = Parameters(f"parameters-{number}", (), (), educators=educators, notes=("A note.",))
    return ParameterVersion.objects.create(
        academy=academy,
        number=number,
        parameters=json.loads(made.to_json()),
        sets=1,
        students=1,
        made_at=STARTED + timedelta(days=number),
    )


def test_the_newest_version_of_the_own_academy_is_in_force(cast: Cast):
    assert newest_parameters(cast.academy) is None and parameters_in(None).version == "defaults-1"
    keep(cast.academy, 1)
    keep(cast.academy, 2)
    keep(cast.omar.academy, 7)
    found = newest_parameters(cast.academy)
    assert found is not None and found.number == 2
    assert parameters_in(found).version == "parameters-2"


def test_a_skill_that_the_version_does_not_know_yet_is_added_and_none_is_lost(cast: Cast):
    version = keep(cast.academy, 1)
    model = skill_model(version, [Skill(code="brow-work", name="Brow work")], [])
    assert model.parameters.skill_codes == ("brow-work",)
    assert model.version == "state-space-2 parameters-1"


def test_a_severe_educator_is_told_as_levels_below_the_average(cast: Cast):
    """One logit at the middle of a scale whose steps are evenly read moves the level by the variance there.

    Expected: the derivative of the mean of an exponential family is its variance (rating scale, D. Andrich
    1978); for a small severity the change in levels is -severity * variance, the variance being summed by
    hand below. Value from memory of that identity, no table.
    """
    small = 0.01
    keep(
        cast.academy,
        1,
        **{str(cast.ines.pk): Facet(small, 0.0004, 500), str(cast.owner.pk): Facet(-small, 0.0004, 500)},
    )
    weights = [1.0, 2.718281828**1.90, 2.718281828**2.55, 2.718281828**1.95, 1.0]
    mean = sum(level * weight for level, weight in enumerate(weights)) / sum(weights)
    variance = sum((level - mean) ** 2 * weight for level, weight in enumerate(weights)) / sum(weights)
    found = severities(cast.academy)
    strict, mild = found.educators
    assert (strict.educator, mild.educator) == (cast.ines.pk, cast.owner.pk)
    assert strict.levels == pytest.approx(-small * variance, rel=0.02)
    assert strict.low < strict.levels < strict.high and mild.levels > 0
    assert found.notes == ("A note.",)


def test_before_the_first_refit_nobody_is_compared(cast: Cast):
    assert severities(cast.academy).educators == ()
