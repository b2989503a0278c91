from assessments.models import RubricVersion
from assessments.scoring.sampling import SamplePlan
from assessments.selectors.sampling_plan import sample_plan, sampling_words
from courses.models import BriefVersion
from courses.words import ZONES


def brief(coverage=100, layers=("top", "bottom")):
    return BriefVersion(zones=list(ZONES), layers=list(layers), lashes_per_eye=80, coverage_percent=coverage)


def test_the_rubric_decides_how_many():
    rubric = RubricVersion(per_zone=6, gaps_per_zone=3, directions_per_zone=0, pairs_per_zone=2)
    assert sample_plan(brief(), rubric) == SamplePlan(
        per_zone=6, gaps_per_zone=3, directions_per_zone=0, pairs_per_zone=2
    )


def test_no_more_is_inspected_than_is_placed():
    """16 fans an eye over 4 zones and 2 layers are 2 a cell, 4 a zone."""
    plan = sample_plan(brief(coverage=20), RubricVersion(per_zone=5, gaps_per_zone=5, pairs_per_zone=5))
    assert (plan.fans_per_cell, plan.per_zone, plan.gaps_per_zone, plan.pairs_per_zone) == (2, 4, 4, 4)


def test_the_plan_in_words():
    """5 fans x 4 zones x 2 eyes = 40."""
    assert sampling_words(SamplePlan(pairs_per_zone=1)) == (
        "5 fans in each of the 4 zones of each eye, 40 in all, the layers taking turns.",
        "The system draws which ones once the set is finished: neither you nor the educator chooses them.",
        "Measured in each zone: the gap to the lid of 2 and the direction of 2.",
        "At 1 place of each zone the same fan is drawn on both eyes and its length measured, "
        "to compare left and right.",
    )


def test_what_is_not_measured_is_not_told():
    plan = SamplePlan(layers=("top",), per_zone=1, gaps_per_zone=0, directions_per_zone=0)
    assert sampling_words(plan)[0] == "1 fan in each of the 4 zones of each eye, 8 in all."
    assert len(sampling_words(plan)) == 2
