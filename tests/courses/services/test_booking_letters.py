"""Letters about bookings, as a reader of mail and a reader of calendars see them."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage
from smtplib import SMTPException
from typing import Any

import icalendar
import pytest
from django.core import mail

from academy.mail import send
from courses.models import Booking, BookingLetter, OpeningHours, WorkingHours
from courses.services import booking_letters
from courses.services import bookings as services
from courses.services.booking_letters import tell_booking_change
from courses.services.bookings import (
    accept_booking,
    book,
    cancel_booking,
    mark_attended,
    mark_missed,
    move_booking,
    propose_booking,
)
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, Rota, later, make_rota, place_for

NOW = MADE_AT
MADE: dict[str, Any] = {"live_allowed": False, "now": NOW}
ADA, INES, TOVA = ("ada.marsh@people.example", "ines.carvalho@people.example", "tova.lind@people.example")


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


@pytest.fixture(autouse=True)
def changes(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Keys of the changes to be told, in order; the tests send the letters when they like."""
    kept: list[int] = []

    def keep(path: str, **keys: int) -> None:
        kept.extend([keys["change_id"]] if "change_id" in keys else [])

    monkeypatch.setattr(services, "enqueue", keep)
    return kept


@pytest.fixture
def tell(changes: list[int]) -> Callable[[], list[EmailMessage]]:
    """Sends what is to be told since the last time; the letters of just now."""

    def told() -> list[EmailMessage]:
        mail.outbox.clear()
        for key in changes:
            tell_booking_change(change_id=key, now=NOW)
        changes.clear()
        return [message_from_bytes(each.message().as_bytes(), policy=policy.default) for each in mail.outbox]

    return told


def moved(booking: Booking, cast: Cast, rota: Rota, **changes: Any) -> Booking:
    place = place_for(cast, rota, **changes)
    return move_booking(booking=booking, place=place, actor=cast.owner, seen=booking.sequence, **MADE)


def entry_of(letter: EmailMessage) -> tuple[str, Any] | None:
    """The method of the calendar part and its only event; the two places that name the method agree."""
    parts = [part for part in letter.walk() if part.get_content_type() == "text/calendar"]
    if not parts:
        return None
    (part,) = parts
    calendar = icalendar.Calendar.from_ical(part.get_content())
    (event,) = calendar.walk("VEVENT")
    assert part.get_param("method") == str(calendar["METHOD"])
    assert part.get_content_charset() == "utf-8"
    return str(calendar["METHOD"]), event


def methods(letters: list[EmailMessage]) -> dict[str, str]:
    return {letter["To"].addresses[0].addr_spec: (entry_of(letter) or ("none",))[0] for letter in letters}


def test_a_booking_is_told_to_student_and_educator_as_an_invitation(cast: Cast, rota: Rota, tell):
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    letters = tell()
    assert methods(letters) == {ADA: "REQUEST", INES: "REQUEST"}
    for letter in letters:
        assert letter.defects == []
        parts = [part.get_content_type() for part in letter.walk() if not part.is_multipart()]
        assert parts == ["text/plain", "text/html", "text/calendar"]  # RFC 2046, 5.1.4: the richest last
        found = entry_of(letter)
        assert found
        _, event = found
        assert str(event["UID"]).startswith(str(made.uid))
        assert event["SEQUENCE"] == 0
        assert event.decoded("DTSTART") == made.starts_at
        assert str(event["ATTENDEE"]) == f"mailto:{letter['To'].addresses[0].addr_spec}"
        assert str(event["ORGANIZER"]) == f"mailto:{letter['From'].addresses[0].addr_spec}"
        assert not [each for each in event.subcomponents if each.name == "VALARM"]


def test_a_proposed_booking_asks_and_is_no_appointment_yet(cast: Cast, rota: Rota, tell):
    made = propose_booking(place=place_for(cast, rota), actor=cast.ines, **MADE)
    letters = tell()
    assert methods(letters) == {ADA: "none", INES: "none"}
    (hers,) = [each for each in letters if ADA in each["To"]]
    body = hers.get_body(("plain",))
    assert body and "Accept it if it suits you, or decline it" in body.get_content()
    accept_booking(booking=made, actor=cast.ada, seen=0, now=NOW)
    assert methods(tell()) == {ADA: "REQUEST", INES: "REQUEST"}


def test_a_declined_proposal_takes_back_no_appointment(cast: Cast, rota: Rota, tell):
    made = propose_booking(place=place_for(cast, rota), actor=cast.ines, **MADE)
    cancel_booking(booking=made, actor=cast.ada, seen=0, now=NOW)
    assert methods(tell()) == {ADA: "none", INES: "none"}


def test_a_move_and_a_cancellation_rise_in_sequence_under_the_same_uid(cast: Cast, rota: Rota, tell):
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    first = entry_of(tell()[0])
    made = moved(made, cast, rota, starts_at=later(2))
    second = entry_of(tell()[0])
    cancel_booking(booking=made, actor=cast.ines, seen=1, reason="The boiler is out", now=NOW)
    letters = tell()
    third = entry_of(letters[0])
    assert first and second and third
    told = [
        (method, int(event["SEQUENCE"]), str(event["STATUS"])) for method, event in (first, second, third)
    ]
    assert told == [("REQUEST", 0, "CONFIRMED"), ("REQUEST", 1, "CONFIRMED"), ("CANCEL", 2, "CANCELLED")]
    assert len({str(event["UID"]) for _, event in (first, second, third)}) == 1
    assert second[1].decoded("DTSTART") == later(2)
    body = letters[0].get_body(("plain",))
    assert body and "The boiler is out" in body.get_content()


def test_who_hands_a_session_over_is_told_and_her_entry_taken_back(cast: Cast, rota: Rota, tell):
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    tell()
    moved(made, cast, rota, educator=cast.second)
    letters = tell()
    assert methods(letters) == {ADA: "REQUEST", TOVA: "REQUEST", INES: "CANCEL"}
    (hers,) = [each for each in letters if INES in each["To"]]
    assert hers["Subject"].startswith("Session handed over")


def test_a_hand_over_is_told_even_when_the_next_change_overtakes_its_letter(cast: Cast, rota: Rota, tell):
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    tell()
    made = moved(made, cast, rota, educator=cast.second)
    made = moved(made, cast, rota, educator=cast.second, starts_at=later(2))
    assert methods(tell()) == {ADA: "REQUEST", TOVA: "REQUEST", INES: "CANCEL"}
    moved(made, cast, rota, educator=cast.second, starts_at=later(3))
    assert methods(tell()) == {ADA: "REQUEST", TOVA: "REQUEST"}  # once is enough


def test_who_never_heard_of_a_session_is_not_told_that_it_is_handed_over(cast: Cast, rota: Rota, tell):
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    moved(made, cast, rota, educator=cast.second)
    assert methods(tell()) == {ADA: "REQUEST", TOVA: "REQUEST"}


def test_only_the_newest_of_several_changes_is_told(cast: Cast, rota: Rota, tell, changes: list[int]):
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    moved(made, cast, rota, starts_at=later(2))
    assert len(changes) == 2
    assert [letter["Subject"].split(" at ")[0] for letter in tell()] == ["Booking moved"] * 2


def test_a_missed_session_is_told_to_the_student_alone_and_attendance_to_nobody(cast: Cast, rota: Rota, tell):
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    tell()
    mark_missed(booking=made, actor=cast.ines, now=later(1))
    assert methods(tell()) == {ADA: "none"}
    mark_attended(booking=made, actor=cast.ines, now=later(2))
    assert tell() == []


def test_who_has_left_is_told_nothing(cast: Cast, rota: Rota, tell):
    made = book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    tell()
    cast.ada.left_at = cast.ines.left_at = NOW
    cast.ada.save()
    cast.ines.save()
    moved(made, cast, rota, educator=cast.second)
    assert methods(tell()) == {TOVA: "REQUEST"}


def test_told_again_nobody_gets_a_second_letter(cast: Cast, rota: Rota, changes: list[int]):
    book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    (change,) = changes
    assert [tell_booking_change(change_id=change, now=NOW) for _ in range(3)] == [2, 0, 0]
    assert len(mail.outbox) == BookingLetter.objects.count() == 2


def test_after_a_failure_only_the_missing_letter_is_sent(cast: Cast, rota: Rota, changes, monkeypatch):
    book(place=place_for(cast, rota), actor=cast.ines, **MADE)
    (change,) = changes
    sent: list[str] = []

    def fails_once(letter) -> None:
        sent.append(letter.address)
        if len(sent) == 2:
            raise SMTPException("the server is away")
        send(letter)

    monkeypatch.setattr(booking_letters, "send", fails_once)
    with pytest.raises(SMTPException):
        tell_booking_change(change_id=change, now=NOW)
    assert tell_booking_change(change_id=change, now=NOW) == 1
    assert [each.to[0].rpartition("<")[2].rstrip(">") for each in mail.outbox] == [ADA, INES]


@pytest.mark.parametrize(
    ("zone", "day", "starts", "told"),
    [  # Directive 2000/84/EC: the last Sundays of March and October; 15 U.S.C. 260a: 8 March, 1 November 2026
        (
            "Europe/Lisbon",
            (2026, 3, 29),
            (9, 0),
            ("forward", "UTC+01:00"),
        ),
        ("Europe/Lisbon", (2026, 10, 25), (9, 0), ("back", "UTC+00:00")),
        (
            "America/New_York",
            (2026, 3, 8),
            (14, 0),
            ("forward", "UTC-04:00"),
        ),
        (
            "America/New_York",
            (2026, 11, 1),
            (14, 0),
            ("back", "UTC-05:00"),
        ),
        ("Europe/Lisbon", (2026, 3, 30), (9, 0), None),
    ],
)
def test_a_day_on_which_the_clocks_change_is_pointed_out(
    cast: Cast, rota: Rota, tell, zone, day, starts, told
):
    cast.academy.time_zone = zone
    cast.academy.save()
    _open_on_every_day(cast)
    at = datetime.combine(date(*day), time(*starts), UTC)
    now = at - timedelta(days=7)
    place = place_for(cast, rota, starts_at=at)
    book(place=place, actor=cast.ines, live_allowed=False, now=now)
    for letter in tell():
        text, html = (letter.get_body((kind,)).get_content() for kind in ("plain", "html"))
        words = [f"They are put {told[0]} on this day.", f"({told[1]})"] if told else []
        assert all(each in text for each in words)
        assert ("Clocks" in text) is bool(told)
        assert ("Clocks" in html) is bool(told)
        assert f"({zone})" in text


def _open_on_every_day(cast: Cast) -> None:
    for row, whose in ((OpeningHours, {"academy": cast.academy}), (WorkingHours, {"educator": cast.ines})):
        row.objects.filter(**whose).delete()
        for day in range(7):
            row.objects.create(weekday=day, starts=time(6), ends=time(22), **whose)
