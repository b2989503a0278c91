from decimal import Decimal

import pytest

from courses.templatetags.programme import decimal_hours, hours_minutes


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(0, "0 min"), (45, "45 min"), (60, "1 h"), (125, "2 h 05 min"), (19_200, "320 h")],
)
def test_minutes_are_told_as_hours_and_minutes(minutes, words):
    assert hours_minutes(minutes) == words


@pytest.mark.parametrize(
    ("hours", "words"), [(None, "–"), ("0", "0 h"), ("7.50", "7.5 h"), ("12.00", "12 h")]
)
def test_decimal_hours_are_told_or_a_dash(hours, words):
    assert decimal_hours(Decimal(hours) if hours else None) == words
