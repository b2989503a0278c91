"""The letters of this floor: what each says, and to whom."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from django.conf import settings
from django.urls import reverse

from academy.calendar import CANCEL, REQUEST, Party, cancellation, invitation
from academy.mail import Letter
from academy.models import Membership
from courses.models import Booking, BookingChange
from courses.planning.availability import change_of_clocks
from courses.selectors.feeds import calendar_entry

Kind = BookingChange.Kind


class Words(NamedTuple):
    """Of one kind of change: the subject, the sentence, and what the button asks for."""

    told: str
    sentence: str
    ask: str


WORDS = {
    Kind.ACCEPTED: Words("Booking accepted", "This booking is settled.", "See all your times"),
    Kind.MOVED: Words(
        "Booking moved", "This booking has moved. This is where it stands now:", "See all your times"
    ),
    Kind.CANCELLED: Words(
        "Booking cancelled", "This booking is cancelled. The place is free again.", "See all your times"
    ),
    Kind.MISSED: Words(
        "Session missed",
        "You were booked for this session and are entered as missing. If that is wrong, tell your educator.",
        "See all your times",
    ),
}
PROPOSED = Words(
    "Booking proposed",
    "A place is held for you. Accept it if it suits you, or decline it so that somebody else can have it.",
    "Accept or decline",
)
HANDED_OVER = Words(
    "Session handed over", "Somebody else looks after this session now. It stands like this:", "See the rota"
)
BOOKED = Words("Booking made", "This booking is settled.", "See all your times")


def booking_letter(change: BookingChange, member: Membership) -> Letter:
    """What one change means for one person: the student, the educator, or whoever was the educator before.

    The booking is as it stood after the change. Costs queries unless its people, bench, kind, skill and
    academy are selected.
    """
    booking = change.booking
    words = _words(change, member)
    entry, method = _entry_of(change, member)
    return Letter(
        folder="courses/booking",
        name=member.user.name,
        address=member.user.email,
        context={
            "academy": booking.academy,
            "told": words.told,
            "sentence": words.sentence,
            "ask": words.ask if member.pk == booking.student_id else "See the rota",
            "facts": list(_facts(booking, member)),
            "reason": change.reason,
            "link": settings.SITE_URL + _page(booking, member),
        },
        entry=entry,
        method=method,
    )


def _words(change: BookingChange, member: Membership) -> Words:
    if _is_former(change.booking, member):
        return HANDED_OVER
    if change.kind == Kind.MADE:
        return PROPOSED if change.after["state"] == Booking.State.PROPOSED else BOOKED
    return WORDS[Kind(change.kind)]


def _is_former(booking: Booking, member: Membership) -> bool:
    return member.pk not in {booking.student_id, booking.educator_id}


def _facts(booking: Booking, member: Membership) -> list[tuple[str, str]]:
    zone = ZoneInfo(booking.academy.time_zone)
    starts, ends = booking.starts_at.astimezone(zone), booking.ends_at.astimezone(zone)
    is_student = member.pk == booking.student_id
    facts = [
        ("When", f"{starts:%A} {starts.day} {starts:%B %Y}, {starts:%H:%M}–{ends:%H:%M} ({zone.key})"),
        *_clocks(starts, zone),
        ("Where", f"{booking.bench.room.name}, {booking.bench.name}"),
        ("What", booking.kind.name),
        ("With", booking.educator.name if is_student else booking.student.name),
    ]
    return [*facts, ("Skill", booking.skill.name)] if booking.skill else facts


def _clocks(starts: datetime, zone: ZoneInfo) -> list[tuple[str, str]]:
    """Said only on the day itself, when a time of day may not mean what it usually does."""
    change = change_of_clocks(starts.date(), zone)
    if not change:
        return []
    way = "forward" if change > timedelta(0) else "back"
    told = f"They are put {way} on this day. The times are as the clock on the wall shows them then"
    return [("Clocks", f"{told} (UTC{starts.isoformat()[-6:]}).")]


def _page(booking: Booking, member: Membership) -> str:
    return reverse("courses:my-times" if member.pk == booking.student_id else "courses:rota")


def _entry_of(change: BookingChange, member: Membership) -> tuple[bytes, str]:
    """A calendar part, with its method, only for what stood or stands as settled."""
    entry, parties = calendar_entry(change.booking, change.at), _parties(change, member)
    stood, stands = (told.get("state") == Booking.State.ACCEPTED for told in (change.before, change.after))
    if stood and _is_former(change.booking, member):
        return cancellation(replace(entry, is_cancelled=True), **parties), CANCEL
    if change.kind == Kind.CANCELLED and stood:
        return cancellation(entry, **parties), CANCEL
    if stands and not _is_former(change.booking, member):
        return invitation(entry, **parties), REQUEST
    return b"", ""


def _parties(change: BookingChange, member: Membership) -> dict[str, Party]:
    sender = settings.DEFAULT_FROM_EMAIL.rsplit("<", 1)[-1].rstrip("> ")
    return {
        "organizer": Party(change.booking.academy.name, sender),
        "attendee": Party(member.user.name, member.user.email),
    }
