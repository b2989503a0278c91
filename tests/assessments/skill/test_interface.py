from dataclasses import FrozenInstanceError

import pytest

from assessments.skill.interface import Observation, SkillInputError, no_estimate


@pytest.mark.parametrize("level", range(5))
def test_the_scale_has_five_levels(level):
    assert Observation(0.0, level).level == level


@pytest.mark.parametrize(
    ("day", "level", "weight", "code"),
    [
        (0, -1, 1, "level_out_of_range"),
        (0, 5, 1, "level_out_of_range"),
        (0, 2.5, 1, "level_out_of_range"),
        (0, float("nan"), 1, "level_out_of_range"),
        (float("nan"), 2, 1, "bad_day"),
        (float("inf"), 2, 1, "bad_day"),
        (0, 2, 0, "bad_weight"),
        (0, 2, -1, "bad_weight"),
        (0, 2, float("inf"), "bad_weight"),
    ],
)
def test_a_mark_that_cannot_be_is_refused_with_a_sentence(day, level, weight, code):
    with pytest.raises(SkillInputError) as caught:
        Observation(day, level, weight)
    assert caught.value.code == code
    assert caught.value.message == str(caught.value)
    assert caught.value.message.count(".") >= 2  # what is wrong, and what to do


def test_before_the_first_set_there_is_no_figure_only_words():
    nothing = no_estimate("isolation")
    assert (nothing.skill, nothing.level, nothing.low, nothing.high, nothing.sets) == (
        "isolation",
        None,
        None,
        None,
        0,
    )
    assert (nothing.status, nothing.words) == ("no_data", "No graded sets yet.")


def test_a_mark_cannot_be_changed_after_it_is_given():
    with pytest.raises(FrozenInstanceError):
        Observation(0, 2).level = 4
