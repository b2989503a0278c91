"""Seconds a fan, exactly."""

from fractions import Fraction

import pytest

from courses.mapping.pace import pace_words, seconds_per_fan

# Minutes × 60 ÷ 160 fans, on paper.
PACES = [(300, "112.5"), (240, "90"), (180, "67.5"), (150, "56.25"), (120, "45")]


@pytest.mark.parametrize(("minutes", "seconds"), PACES)
def test_the_pace_for_160_fans(minutes, seconds):
    assert seconds_per_fan(minutes, 160) == Fraction(seconds)
    assert pace_words(minutes, 160) == f"{minutes} min × 60 ÷ 160 fans = {seconds} s a fan"


def test_a_pace_that_does_not_end_is_said_to_be_rounded():
    assert pace_words(100, 130) == "100 min × 60 ÷ 130 fans ≈ 46.15 s a fan"


def test_whole_tens_are_written_as_numbers_people_read():
    assert pace_words(100, 60).endswith("= 100 s a fan")


@pytest.mark.parametrize(("minutes", "fans"), [(0, 160), (120, 0)])
def test_no_time_or_no_fans_has_no_pace(minutes, fans):
    with pytest.raises(ValueError, match="at least 1 minute and 1 fan"):
        seconds_per_fan(minutes, fans)
