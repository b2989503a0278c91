"""Entries as other programs read them: four parsers in Python here, two in JavaScript in tests/outside."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from email.parser import BytesParser

import icalendar
import ics
import pytest
import recurring_ical_events
import vobject

from academy.calendar import Party, cancellation, feed, invitation
from tests.factories.calendars import ADA, CASES, SCHOOL, entry, every_kind

Read = tuple[datetime, datetime, str]


def by_icalendar(text: str):
    (event,) = icalendar.Calendar.from_ical(text).walk("VEVENT")
    return event.decoded("DTSTART"), event.decoded("DTEND"), str(event["UID"])


def by_vobject(text: str) -> Read:
    event = vobject.readOne(text).vevent
    return event.dtstart.value, event.dtend.value, event.uid.value


def by_ics(text: str) -> Read:
    (event,) = ics.Calendar(text).events
    return event.begin.datetime, event.end.datetime, event.uid


def by_recurring_ical_events(text: str):
    (event,) = recurring_ical_events.of(icalendar.Calendar.from_ical(text)).between(
        datetime(2026, 1, 1, tzinfo=UTC), datetime(2027, 1, 1, tzinfo=UTC)
    )
    return event.decoded("DTSTART"), event.decoded("DTEND"), str(event["UID"])


READERS = [by_icalendar, by_vobject, by_ics, by_recurring_ical_events]


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::FutureWarning", "ignore::UserWarning")
@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("case", CASES)
def test_other_programs_read_the_same_instants(reader: Callable[[str], Read], case: str):
    made = entry(CASES[case])
    starts, ends, uid = reader(feed("Booked times", [made], source="https://fanlight.example/f.ics").decode())
    assert (starts.astimezone(UTC), ends.astimezone(UTC)) == (made.starts.astimezone(UTC), made.ends)
    assert ends.astimezone(UTC) - starts.astimezone(UTC) == timedelta(hours=3)
    assert uid == made.uid


@pytest.mark.parametrize("kind", ["feed", "invitation", "cancellation"])
def test_the_lines_are_those_of_rfc_5545(kind: str):
    """RFC 5545, 3.1: CRLF, lines of at most 75 octets, a fold never within a character."""
    made = every_kind()[kind]
    assert b"\n" not in made.replace(b"\r\n", b"")
    assert made.endswith(b"END:VCALENDAR\r\n")
    lines = made.split(b"\r\n")
    assert max(len(line) for line in lines) <= 75
    assert all(line.decode() or not line for line in lines)
    vobject.readOne(made.decode()).validate(raiseException=True)


@pytest.mark.parametrize("kind", ["feed", "invitation", "cancellation"])
def test_texts_come_back_as_they_were(kind: str):
    (event,) = icalendar.Calendar.from_ical(every_kind()[kind]).walk("VEVENT")
    made = entry(CASES["plain"])
    assert (str(event["SUMMARY"]), str(event["LOCATION"])) == (made.summary, made.location)
    assert vobject.readOne(every_kind()[kind].decode()).vevent.summary.value == made.summary


def test_a_feed_names_nobody_and_asks_for_no_answer():
    """RFC 7986, 5; RFC 5546 asks METHOD:PUBLISH for an organizer, so there is no method."""
    text = every_kind()["feed"].decode()
    assert not re.search("METHOD|ORGANIZER|ATTENDEE|VALARM", text)
    calendar = icalendar.Calendar.from_ical(text)
    assert str(calendar["NAME"]) == str(calendar["X-WR-CALNAME"]) == "Booked times"
    assert calendar["REFRESH-INTERVAL"].to_ical() == b"PT1H"
    assert {"SOURCE", "COLOR"} <= set(calendar)
    assert [str(event["CLASS"]) for event in calendar.walk("VEVENT")] == ["PRIVATE"]


def test_an_invitation_asks_for_an_answer():
    """RFC 5546, 3.2.2."""
    calendar = icalendar.Calendar.from_ical(every_kind()["invitation"])
    (event,) = calendar.walk("VEVENT")
    assert str(calendar["METHOD"]) == "REQUEST"
    assert str(event["ORGANIZER"]) == f"mailto:{SCHOOL.address}"
    params = {name: event["ATTENDEE"].params[name] for name in ("ROLE", "PARTSTAT", "RSVP")}
    assert params == {"ROLE": "REQ-PARTICIPANT", "PARTSTAT": "NEEDS-ACTION", "RSVP": "TRUE"}
    assert (event["SEQUENCE"], str(event["STATUS"])) == (2, "CONFIRMED")


def test_a_cancellation_takes_back_the_same_entry():
    """RFC 5546, 3.2.5: the same UID, a higher SEQUENCE."""
    sent, taken_back = (
        icalendar.Calendar.from_ical(every_kind()[kind]) for kind in ("invitation", "cancellation")
    )
    (before,), (after,) = sent.walk("VEVENT"), taken_back.walk("VEVENT")
    assert str(taken_back["METHOD"]) == "CANCEL"
    assert before["UID"] == after["UID"]
    assert after["SEQUENCE"] > before["SEQUENCE"]
    assert str(after["STATUS"]) == "CANCELLED"


def test_what_still_stands_is_not_taken_back():
    with pytest.raises(ValueError, match="cancelled"):
        cancellation(entry(CASES["plain"]), organizer=SCHOOL, attendee=ADA)


def test_an_entry_without_length_is_refused():
    with pytest.raises(ValueError, match="ends after"):
        feed("Booked times", [entry(CASES["plain"], hours=0)], source="https://fanlight.example/f.ics")


def test_a_name_cannot_add_lines():
    sly = Party("Ada\r\nATTENDEE:mailto:eve@people.example", ADA.address)
    text = invitation(entry(CASES["plain"]), organizer=SCHOOL, attendee=sly).decode()
    assert text.replace("\r\n ", "").count("\r\nATTENDEE") == 1


def test_the_calendar_part_of_a_letter_tells_its_method(mailoutbox, settings):
    from django.core.mail import EmailMultiAlternatives

    message = EmailMultiAlternatives("Booked", "text", to=["ada.marsh@marramlane.example"])
    message.attach_alternative("<p>text</p>", "text/html")
    message.attach_alternative(every_kind()["invitation"].decode(), "text/calendar; method=REQUEST")
    parsed = BytesParser().parsebytes(message.message().as_bytes())
    parts = [part for part in parsed.walk() if not part.is_multipart()]
    assert [part.get_content_type() for part in parts] == ["text/plain", "text/html", "text/calendar"]
    assert parts[-1].get_param("method") == "REQUEST"
    assert parts[-1].get_content_charset() == "utf-8"
