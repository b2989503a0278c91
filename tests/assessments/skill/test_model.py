import pytest

from assessments.skill.interface import JointSkillModel, SkillInputError
from assessments.skill.model import StateSpaceModel
from assessments.skill.observations import StudentRecord
from assessments.skill.weakest import SkillTarget
from tests.assessments.skill.schools import PARAMETERS, ragged_records, rng

MODEL = StateSpaceModel(PARAMETERS)
RECORD = max(ragged_records(rng(4)), key=lambda record: len(record.sets))
LAST = max(one.day for one in RECORD.sets)


def seam(model: JointSkillModel) -> JointSkillModel:
    """Whether it fits is for mypy to say."""
    return model


def test_it_fits_the_seam_and_names_its_parameter_version():
    assert seam(MODEL).version == "state-space-2 1"


def test_every_skill_is_answered_in_the_order_of_the_parameters():
    assert [estimate.skill for estimate in MODEL.estimate_all(RECORD, day=LAST)] == [
        "isolation",
        "wrap",
        "pace",
    ]
    assert {estimate.level for estimate in MODEL.estimate_all(StudentRecord(()), day=0.0)} == {None}


def test_the_order_in_which_sets_arrive_does_not_matter():
    """A late or corrected mark is a new record: the answer is that of marks that came in time."""
    late = StudentRecord((*RECORD.sets[1:], RECORD.sets[0]))
    assert MODEL.estimate_all(late, day=LAST) == MODEL.estimate_all(RECORD, day=LAST)


def test_the_trend_ends_where_the_estimate_of_that_day_stands():
    trend = MODEL.trend(RECORD)
    assert [day for day, _ in trend] == sorted(one.day for one in RECORD.sets)
    assert trend[-1] == (LAST, MODEL.estimate_all(RECORD, day=LAST))
    assert trend[2][1] == MODEL.estimate_all(
        StudentRecord(RECORD.until(LAST)[:3]), day=RECORD.until(LAST)[2].day
    )
    assert MODEL.trend(StudentRecord(())) == ()


def test_idle_days_widen_the_interval_and_lower_the_level():
    now, later = (MODEL.estimate_all(RECORD, day=day)[1] for day in (LAST, LAST + 200))
    assert later.level < now.level
    assert later.high - later.low > now.high - now.low


def test_a_mark_from_the_future_is_refused():
    with pytest.raises(SkillInputError, match="Ask for a later day"):
        MODEL.estimate_all(RECORD, day=LAST - 1)


def test_weak_skills_rest_on_the_same_estimates():
    targets = [SkillTarget(code, code, False, 3.0) for code in PARAMETERS.skill_codes]
    report = MODEL.weak_skills(RECORD, targets, day=LAST)
    found = {weak.target.skill: weak.estimate for weak in report.skills}
    assert found == {estimate.skill: estimate for estimate in MODEL.estimate_all(RECORD, day=LAST)}
    assert sum(weak.chance_weakest for weak in report.skills) == pytest.approx(1)
