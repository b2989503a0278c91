"""The bench on the day: adhesive, temperature and humidity against the academy's guide."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from assessments.scoring.evidence import ScoringInputError


@dataclass(frozen=True, slots=True)
class Conditions:
    """Temperature in °C, humidity in % RH; ``adhesive_days``: usable after opening, by the label."""

    adhesive_lot: str
    adhesive_opened_on: date
    adhesive_days: int
    room_c: Decimal
    room_rh: int

    def __post_init__(self) -> None:
        if not self.adhesive_lot.strip():
            raise ScoringInputError("adhesive_lot", "The adhesive has no lot. Copy it from the label.")
        if not 1 <= self.adhesive_days <= 365:
            raise ScoringInputError(
                "adhesive_days",
                f"{self.adhesive_days} days of use is not possible. Enter 1 to 365, as on the label.",
            )
        if not (self.room_c.is_finite() and Decimal(5) <= self.room_c <= Decimal(45)):
            raise ScoringInputError("room_c", f"{self.room_c} °C is no room temperature. Enter 5 to 45.")
        if not 1 <= self.room_rh <= 100:
            raise ScoringInputError(
                "room_rh", f"A humidity of {self.room_rh} % is not possible. Enter 1 to 100."
            )


@dataclass(frozen=True, slots=True)
class RoomGuide:
    """The range an academy teaches; the product label overrides it."""

    room_c: tuple[Decimal, Decimal]
    room_rh: tuple[int, int]


def check_opened(conditions: Conditions, *, today: date) -> None:
    if conditions.adhesive_opened_on > today:
        raise ScoringInputError(
            "adhesive_opened_on",
            f"The adhesive would be opened on {conditions.adhesive_opened_on:%d %B %Y}, after today. "
            "Enter the day it was opened.",
        )


def warnings(conditions: Conditions, guide: RoomGuide, *, today: date) -> tuple[str, ...]:
    """What the educator should know before starting; none of it stops her."""
    found = (
        _adhesive_warning(conditions, today),
        _range_warning("Room temperature", "°C", conditions.room_c, guide.room_c),
        _range_warning("Humidity", "%", conditions.room_rh, guide.room_rh),
    )
    return tuple(words for words in found if words)


def _adhesive_warning(conditions: Conditions, today: date) -> str:
    past = (today - conditions.adhesive_opened_on).days - conditions.adhesive_days
    if past <= 0:
        return ""
    return (
        f"Adhesive lot {conditions.adhesive_lot} was opened {conditions.adhesive_days + past} days ago: "
        f"{past} past its {conditions.adhesive_days}. The label decides; open a fresh bottle if in doubt."
    )


def _range_warning(
    what: str, unit: str, found: Decimal | int, taught: tuple[Decimal | int, Decimal | int]
) -> str:
    low, high = taught
    if low <= found <= high:
        return ""
    side = "below" if found < low else "above"
    taught_here = f"{float(low):g}–{float(high):g} {unit} taught here"
    return f"{what} {float(found):g} {unit} is {side} the {taught_here}. The product label decides."
