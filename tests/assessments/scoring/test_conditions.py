"""The bench on the day. Ranges and days are what an academy enters: common practice, no source."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.scoring.conditions import Conditions, RoomGuide, check_opened, warnings
from assessments.scoring.evidence import ScoringInputError

TODAY = date(2026, 3, 2)
# Room 20-22 °C and 40-60 % RH are what the trade teaches: common practice, no source; the label overrides.
GUIDE = RoomGuide((Decimal("20.0"), Decimal("22.0")), (40, 60))


def conditions(**changes: Any) -> Conditions:
    good: dict[str, Any] = {
        "adhesive_lot": "K-2201",
        "adhesive_opened_on": TODAY,
        "adhesive_days": 28,
        "room_c": Decimal("21.0"),
        "room_rh": 50,
    }
    return Conditions(**{**good, **changes})


def test_an_ordinary_day_brings_no_warning():
    assert warnings(conditions(), GUIDE, today=TODAY) == ()


@pytest.mark.parametrize(
    ("changes", "member", "words"),
    [
        ({"room_rh": 140}, "room_rh", "140 % is not possible"),
        ({"room_rh": 0}, "room_rh", "0 % is not possible"),
        ({"room_rh": -5}, "room_rh", "not possible"),
        ({"room_c": Decimal("4.9")}, "room_c", "no room temperature"),
        ({"room_c": Decimal("45.1")}, "room_c", "no room temperature"),
        ({"room_c": Decimal("NaN")}, "room_c", "no room temperature"),
        ({"room_c": Decimal("Infinity")}, "room_c", "no room temperature"),
        ({"adhesive_days": 0}, "adhesive_days", "0 days"),
        ({"adhesive_days": 366}, "adhesive_days", "366 days"),
        ({"adhesive_lot": "  "}, "adhesive_lot", "no lot"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence_about_that_field(changes, member, words):
    with pytest.raises(ScoringInputError, match=words) as refused:
        conditions(**changes)
    assert refused.value.code == member


@pytest.mark.parametrize("room_c", [Decimal(5), Decimal(45)])
@pytest.mark.parametrize("room_rh", [1, 100])
def test_the_ends_of_what_is_possible_are_taken(room_c, room_rh):
    assert conditions(room_c=room_c, room_rh=room_rh).room_rh == room_rh


def test_a_bottle_opened_tomorrow_is_refused_and_one_opened_today_is_not():
    check_opened(conditions(), today=TODAY)
    with pytest.raises(ScoringInputError, match="03 March 2026, after today") as refused:
        check_opened(conditions(adhesive_opened_on=TODAY + timedelta(days=1)), today=TODAY)
    assert refused.value.code == "adhesive_opened_on"


def test_the_last_day_of_the_bottle_brings_no_warning_and_the_day_after_does():
    last = conditions(adhesive_opened_on=date(2026, 2, 2))  # 28 days before 2 March: counted on a calendar
    assert warnings(last, GUIDE, today=TODAY) == ()
    (words,) = warnings(last, GUIDE, today=TODAY + timedelta(days=1))
    assert "opened 29 days ago: 1 past its 28" in words
    assert "The label decides" in words


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"room_c": Decimal("19.9")}, "Room temperature 19.9 °C is below the 20–22 °C taught here"),
        ({"room_c": Decimal("22.1")}, "Room temperature 22.1 °C is above the 20–22 °C taught here"),
        ({"room_rh": 39}, "Humidity 39 % is below the 40–60 % taught here"),
        ({"room_rh": 61}, "Humidity 61 % is above the 40–60 % taught here"),
    ],
)
def test_a_room_outside_the_guide_is_a_warning_that_defers_to_the_label(changes, words):
    (found,) = warnings(conditions(**changes), GUIDE, today=TODAY)
    assert found == f"{words}. The product label decides."


@pytest.mark.parametrize("changes", [{"room_c": Decimal(20)}, {"room_c": Decimal(22)}, {"room_rh": 40}])
def test_the_ends_of_the_guide_bring_no_warning(changes):
    assert warnings(conditions(**changes), GUIDE, today=TODAY) == ()


def test_several_warnings_stand_side_by_side():
    odd = conditions(room_c=Decimal(30), room_rh=80, adhesive_opened_on=date(2025, 3, 2))
    assert len(warnings(odd, GUIDE, today=TODAY)) == 3


@given(st.dates())
def test_no_date_on_the_calendar_breaks_the_warnings(opened_on):
    found = warnings(conditions(adhesive_opened_on=opened_on), GUIDE, today=TODAY)
    assert bool(found) == ((TODAY - opened_on).days > 28)
