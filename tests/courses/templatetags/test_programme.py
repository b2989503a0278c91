import pytest

from courses.templatetags.programme import hours_minutes


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(0, "0 min"), (45, "45 min"), (60, "1 h"), (125, "2 h 05 min"), (19_200, "320 h")],
)
def test_minutes_are_told_as_hours_and_minutes(minutes, words):
    assert hours_minutes(minutes) == words
