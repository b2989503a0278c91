"""The one door to the calendar library: entries as RFC 5545 text, for a feed or for a letter.

Single entries are written in UTC, so no reader has to know about the change of the clocks.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from icalendar import Calendar, Event, vCalAddress

PRODUCT = "-//Fanlight//Rota//EN"
CONTENT_TYPE = "text/calendar; charset=utf-8"
REQUEST, CANCEL = "REQUEST", "CANCEL"


@dataclass(frozen=True, slots=True)
class Entry:
    """One appointment. ``uid`` stays for ever and names nobody; ``sequence`` rises with every change.

    Instants carry their zone. ``stamped`` is the instant of the newest change.
    """

    uid: str
    sequence: int
    starts: datetime
    ends: datetime
    summary: str
    stamped: datetime
    location: str = ""
    is_cancelled: bool = False


@dataclass(frozen=True, slots=True)
class Party:
    """Who sends an invitation, or whom it is for."""

    name: str
    address: str


def feed(
    name: str, entries: Iterable[Entry], *, source: str, refresh: timedelta = timedelta(hours=1)
) -> bytes:
    """A calendar to subscribe to (RFC 7986): no method, no organizer and no attendee, so it names nobody."""
    calendar = _calendar()
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", refresh, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", "PT" + str(int(refresh.total_seconds() // 60)) + "M")
    calendar.add("source", source, parameters={"VALUE": "URI"})
    calendar.add("color", "darkslateblue")
    for entry in entries:
        event = _event(entry)
        event.add("class", "PRIVATE")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def invitation(entry: Entry, *, organizer: Party, attendee: Party) -> bytes:
    """A new or changed appointment to answer (RFC 5546, REQUEST)."""
    event = _event(entry)
    event.add("organizer", _address(organizer))
    invited = _address(attendee)
    invited.params |= {"ROLE": "REQ-PARTICIPANT", "PARTSTAT": "NEEDS-ACTION", "RSVP": "TRUE"}
    event.add("attendee", invited)
    return _sent(event, REQUEST)


def cancellation(entry: Entry, *, organizer: Party, attendee: Party) -> bytes:
    """Takes an appointment back (RFC 5546, CANCEL). Raises ValueError for an entry that still stands."""
    if not entry.is_cancelled:
        raise ValueError("Only a cancelled entry can be taken back.")
    event = _event(entry)
    event.add("organizer", _address(organizer))
    event.add("attendee", _address(attendee))
    return _sent(event, CANCEL)


def _calendar() -> "Calendar":
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODUCT)
    return calendar


def _sent(event: "Event", method: str) -> bytes:
    calendar = _calendar()
    calendar.add("method", method)
    calendar.add_component(event)
    return bytes(calendar.to_ical())


def _event(entry: Entry) -> "Event":
    from icalendar import Event

    if entry.ends <= entry.starts:
        raise ValueError("An appointment ends after it starts.")
    event = Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", entry.stamped.astimezone(UTC))
    event.add("dtstart", entry.starts.astimezone(UTC))
    event.add("dtend", entry.ends.astimezone(UTC))
    event.add("sequence", entry.sequence)
    event.add("status", "CANCELLED" if entry.is_cancelled else "CONFIRMED")
    event.add("summary", entry.summary)
    if entry.location:
        event.add("location", entry.location)
    return event


def _address(party: Party) -> "vCalAddress":
    from icalendar import vCalAddress, vText

    address = vCalAddress(f"mailto:{party.address}")
    address.params["CN"] = vText(party.name)
    return address
