"""Secret addresses of calendars: whoever holds one reads one person's bookings, and nothing else."""

from datetime import datetime, timedelta
from hashlib import sha256
from urllib.parse import urlsplit

from django.conf import settings
from django.db.models import Exists, OuterRef, Q, Subquery

from academy.calendar import Entry
from academy.errors import NotHere
from academy.models import Membership
from courses.models import Booking, BookingChange, CalendarFeed

KEPT = timedelta(days=180)  # how long a past session stays in the calendar
CANCELLED_KEPT = timedelta(days=60)  # longer than the 30 days after which calendars forget a cancelled one


def token_digest(token: str) -> str:
    return sha256(token.encode()).hexdigest()


def feed_by_token(token: str) -> CalendarFeed:
    """The open feed behind a secret address; one query. A revoked or unknown token is NotHere."""
    found = (
        CalendarFeed.objects.filter(token_digest=token_digest(token), revoked_at=None, member__left_at=None)
        .select_related("member__academy")
        .first()
    )
    if found is None:
        raise NotHere("calendar")
    return found


def open_feed(member: Membership) -> CalendarFeed | None:
    return CalendarFeed.objects.filter(member=member, revoked_at=None).first()


def feed_entries(member: Membership, now: datetime) -> list[Entry]:
    """What this person is booked for, in order of time; one query. What was never settled is left out."""
    changes = BookingChange.objects.filter(booking=OuterRef("pk"))
    shown = (
        Booking.objects.filter(Q(student=member) | Q(educator=member), ends_at__gt=now - KEPT)
        .exclude(state=Booking.State.PROPOSED)
        .annotate(changed_at=Subquery(changes.order_by("-pk").values("at")[:1]))
        .exclude(state=Booking.State.CANCELLED, changed_at__lte=now - CANCELLED_KEPT)
        .filter(Exists(changes.filter(after__state=Booking.State.ACCEPTED)))
        .select_related("academy", "bench__room", "kind")
        .order_by("starts_at", "id")
    )
    return [calendar_entry(booking, booking.changed_at) for booking in shown]


def calendar_entry(booking: Booking, stamped: datetime) -> Entry:
    """What a calendar shows of a booking; it names nobody and says no more than it must.

    Costs queries unless academy, room and kind are selected.
    """
    return Entry(
        uid=f"{booking.uid}@{urlsplit(settings.SITE_URL).hostname}",
        sequence=booking.sequence,
        starts=booking.starts_at,
        ends=booking.ends_at,
        summary=f"{booking.kind.name} at {booking.academy.name}",
        stamped=stamped,
        location=f"{booking.bench.room.name}, {booking.bench.name}",
        is_cancelled=booking.state == Booking.State.CANCELLED,
    )
