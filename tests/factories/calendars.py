"""Entries of calendars: ordinary ones, and those that lie across a change of the clocks."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from academy.calendar import Entry, Party, cancellation, feed, invitation

LISBON, NEW_YORK = ZoneInfo("Europe/Lisbon"), ZoneInfo("America/New_York")
STAMPED = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SCHOOL = Party("Marram Lane; Lash School, Saltby", "rota@marramlane.example")
ADA = Party('Ada "Đặng" Marsh', "ada.marsh@marramlane.example")


def entry(starts: datetime, hours: float = 3, **changes: Any) -> Entry:
    made = Entry(
        uid="7f2c9a54-0a0e-4b62-9df6-4a2c7b3d1e90@fanlight.example",
        sequence=2,
        starts=starts,
        ends=(starts.astimezone(UTC) + timedelta(hours=hours)),
        summary="Supervised bench; Đặng, 서하늘, Oксана at Marram Lane \\ Saltby, a long line to fold",
        stamped=STAMPED,
        location="Front room, Bench 2",
    )
    return replace(made, **changes)


# Directive 2000/84/EC: 29 March and 25 October 2026, 01:00 UTC. 15 U.S.C. 260a: 8 March and 1 November 2026.
CASES = {
    "plain": datetime(2026, 3, 2, 10, tzinfo=LISBON),
    "over the change forward in Lisbon": datetime(2026, 3, 29, 0, 30, tzinfo=LISBON),
    "over the change back in Lisbon": datetime(2026, 10, 25, 0, 30, tzinfo=LISBON),
    "the second 01:30 in Lisbon": datetime(2026, 10, 25, 1, 30, fold=1, tzinfo=LISBON),
    "over the change forward in New York": datetime(2026, 3, 8, 0, 30, tzinfo=NEW_YORK),
    "over the change back in New York": datetime(2026, 11, 1, 0, 30, tzinfo=NEW_YORK),
}


def every_kind() -> dict[str, bytes]:
    made = entry(CASES["plain"])
    parties = {"organizer": SCHOOL, "attendee": ADA}
    return {
        "feed": feed("Booked times", [made], source="https://fanlight.example/f.ics"),
        "empty feed": feed("Booked times", [], source="https://fanlight.example/f.ics"),
        "invitation": invitation(made, **parties),
        "cancellation": cancellation(replace(made, is_cancelled=True, sequence=3), **parties),
    }
