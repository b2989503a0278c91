"""Calendars before two readers in JavaScript, ical.js and node-ical; four in Python are in tests/academy."""

from datetime import UTC, datetime
from typing import Any

import pytest

from academy.calendar import Entry, feed
from tests.factories.calendars import CASES, entry, every_kind
from tests.outside.tools import answer_of

READERS = ("ical.js", "node-ical")

pytestmark = pytest.mark.outside


def read(made: bytes) -> dict[str, list[dict[str, Any]]]:
    """What each reader finds, instants of any form as datetimes."""
    answer = answer_of("calendars.mjs", {"text": made.decode()})
    for events in answer.values():
        for event in events:
            event |= {end: datetime.fromisoformat(event[end]) for end in ("starts", "ends")}
    return answer


def told(made: Entry, **changes: Any) -> dict[str, Any]:
    """What was written, as a reader should find it."""
    return {
        "method": None,
        "uid": made.uid,
        "sequence": made.sequence,
        "status": "CONFIRMED",
        "starts": made.starts.astimezone(UTC),
        "ends": made.ends.astimezone(UTC),
        "summary": made.summary,
        "location": made.location,
        **changes,
    }


@pytest.mark.parametrize("case", CASES)
def test_a_feed_says_the_same_instants_to_both(case: str):
    made = entry(CASES[case])
    found = read(feed("Booked times", [made], source="https://fanlight.example/f.ics"))
    assert found == {reader: [told(made)] for reader in READERS}


@pytest.mark.parametrize(
    ("kind", "changes"),
    [
        ("invitation", {"method": "REQUEST"}),
        ("cancellation", {"method": "CANCEL", "status": "CANCELLED", "sequence": 3}),
        ("feed", {}),
    ],
)
def test_what_is_sent_is_read_as_it_was_meant(kind: str, changes: dict[str, Any]):
    found = read(every_kind()[kind])
    assert found == {reader: [told(entry(CASES["plain"]), **changes)] for reader in READERS}


def test_an_empty_feed_is_a_calendar_too():
    assert read(every_kind()["empty feed"]) == {reader: [] for reader in READERS}
