import pytest

from assessments.skill.interface import SkillInputError
from assessments.skill.observations import Grading, SetRecord, StudentRecord


@pytest.mark.parametrize(
    ("counts", "code", "words"),
    [
        (
            {"sticky": (5, 4)},
            "faults_exceed_inspected",
            "5 faults recorded for sticky but only 4 fans inspected",
        ),
        ({"sticky": (-1, 4)}, "negative_count", "cannot be below 0"),
        ({"sticky": (0, -4)}, "negative_count", "cannot be below 0"),
    ],
)
def test_counts_that_cannot_be_are_refused(counts, code, words):
    with pytest.raises(SkillInputError, match=words) as refusal:
        Grading("ines", counts=counts)
    assert refusal.value.code == code


@pytest.mark.parametrize("level", [-1, 5])
def test_a_level_off_the_scale_is_refused(level):
    with pytest.raises(SkillInputError, match="whole level from 0 to 4"):
        Grading("ines", {"wrap": level})


def test_one_educator_marks_a_set_once():
    with pytest.raises(SkillInputError, match="marked the same set twice"):
        SetRecord(1.0, "classic", (Grading("ines"), Grading("ines")))
    assert len(SetRecord(1.0, "classic", (Grading("ines"), Grading("tova"))).gradings) == 2


@pytest.mark.parametrize("day", [float("nan"), float("inf")])
def test_a_set_and_a_question_need_a_day(day):
    with pytest.raises(SkillInputError, match="date"):
        SetRecord(day, "classic", ())
    with pytest.raises(SkillInputError, match="date"):
        StudentRecord(()).until(day)


def test_sets_are_read_oldest_first_and_not_from_the_future():
    record = StudentRecord((SetRecord(5.0, "a", ()), SetRecord(1.0, "b", ())))
    assert [one.day for one in record.until(5.0)] == [1.0, 5.0]
    with pytest.raises(SkillInputError, match="after the day asked for"):
        record.until(4.0)
