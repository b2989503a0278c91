"""Letters about bookings: each change is told to those it concerns, each of them once."""

from datetime import datetime

from django.db import IntegrityError, transaction

from academy.mail import send
from academy.models import Membership
from courses.emails import booking_letter
from courses.models import Booking, BookingChange, BookingLetter

Kind = BookingChange.Kind
TOLD_TO_BOTH = {Kind.MADE, Kind.ACCEPTED, Kind.MOVED, Kind.CANCELLED}


def tell_booking_change(*, change_id: int, now: datetime) -> int:
    """Letters sent just now. A repeat sends only those that are still missing.

    A change that a newer one has overtaken is not told: the letter of the newer one says where things stand.
    """
    change = (
        BookingChange.objects.select_related(
            "booking__student__user",
            "booking__educator__user",
            "booking__academy",
            "booking__bench__room",
            "booking__kind",
            "booking__skill",
        )
        .filter(pk=change_id)
        .first()
    )
    if change is None or change.booking.changes.filter(pk__gt=change.pk).exists():
        return 0
    return sum(_tell(change, member, now) for member in _concerned(change))


def _concerned(change: BookingChange) -> list[Membership]:
    booking = change.booking
    if change.kind in TOLD_TO_BOTH:
        found = [booking.student, booking.educator, *_former_educators(booking)]
    else:
        found = [booking.student] if change.kind == Kind.MISSED else []
    return [member for member in found if member.is_current]


def _former_educators(booking: Booking) -> list[Membership]:
    """Who was last told that she looks after this session, and does not; one query."""
    letters = (
        BookingLetter.objects.filter(change__booking=booking)
        .exclude(member__in=[booking.student_id, booking.educator_id])
        .select_related("member__user", "change")
    )
    newest = {letter.member: letter.change for letter in letters.order_by("pk")}
    return [member for member, change in newest.items() if change.after["educator"] == member.pk]


def _tell(change: BookingChange, member: Membership, now: datetime) -> bool:
    """The row goes in first: of two workers one sends. Mail cannot be taken back: if the process dies between
    the mail server's answer and the commit, a repeat sends a second letter."""
    try:
        with transaction.atomic():
            BookingLetter.objects.create(change=change, member=member, at=now)
            send(booking_letter(change, member))
    except IntegrityError:
        return False
    return True
