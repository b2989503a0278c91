"""Questions about bookings; every one is bound to an academy or to one student."""

from datetime import date, datetime
from uuid import UUID

from django.db.models import QuerySet

from academy.errors import NotHere
from academy.models import Academy, Membership
from courses.models import Booking, WaitingPlace

HOLDING = (Booking.State.PROPOSED, Booking.State.ACCEPTED)
SETTLED = (Booking.State.ACCEPTED, Booking.State.ATTENDED, Booking.State.MISSED)


def bookings(academy: Academy) -> QuerySet[Booking]:
    """With everything that a line about them shows."""
    return Booking.objects.filter(academy=academy).select_related(
        "student__user", "educator__user", "bench__room", "kind", "head", "skill", "drill"
    )


def bookings_between(academy: Academy, starts: datetime, ends: datetime) -> QuerySet[Booking]:
    """Those that take place, or took place, within the span; cancelled ones are left out."""
    return (
        bookings(academy)
        .filter(starts_at__lt=ends, ends_at__gt=starts)
        .exclude(state=Booking.State.CANCELLED)
        .order_by("starts_at", "bench__room__name", "bench__name", "id")
    )


def booking(academy: Academy, uid: UUID) -> Booking:
    found = bookings(academy).filter(uid=uid).first()
    if found is None:
        raise NotHere("booking")
    return found


def own_booking(student: Membership, uid: UUID) -> Booking:
    """One of this student's; another's is NotHere."""
    found = bookings(student.academy).filter(uid=uid, student=student).first()
    if found is None:
        raise NotHere("booking")
    return found


def open_bookings_of(student: Membership, now: datetime) -> QuerySet[Booking]:
    """Those still to come that hold their place."""
    return (
        bookings(student.academy)
        .filter(student=student, state__in=HOLDING, ends_at__gt=now)
        .order_by("starts_at")
    )


def past_bookings_of(student: Membership, now: datetime) -> QuerySet[Booking]:
    """Over or cancelled, newest first."""
    found = bookings(student.academy).filter(student=student)
    return (found.filter(ends_at__lte=now) | found.filter(state=Booking.State.CANCELLED)).order_by(
        "-starts_at"
    )


def waiting_places(academy: Academy) -> QuerySet[WaitingPlace]:
    """Open ones, first come first."""
    return (
        WaitingPlace.objects.filter(student__academy=academy, student__left_at=None, closed_at=None)
        .select_related("student__user", "kind", "skill", "offered")
        .order_by("asked_at", "id")
    )


def academies_where_somebody_waits() -> QuerySet[Academy]:
    waiting = WaitingPlace.objects.filter(closed_at=None)
    return Academy.objects.filter(pk__in=waiting.values("student__academy"))


def waits_to_come(academy: Academy, today: date) -> QuerySet[WaitingPlace]:
    """Open ones as people see them: without those whose days are over or whose offer was taken."""
    return waiting_places(academy).filter(last_on__gte=today).exclude(offered__state__in=SETTLED)


def own_wait(student: Membership, waiting_id: int) -> WaitingPlace:
    """One of this student's places on the waiting list; another's is NotHere."""
    found = WaitingPlace.objects.filter(student=student, pk=waiting_id).first()
    if found is None:
        raise NotHere("place on the waiting list")
    return found
