"""Bookings: made, accepted, moved, cancelled, attended or missed. Every change is kept and told once."""

from collections.abc import Set
from datetime import datetime

from django.db import transaction

from academy.errors import Denied, DomainError
from academy.jobs import enqueue
from academy.models import Membership
from academy.services.audit import record
from courses.models import Booking, BookingChange
from courses.services.booking_checks import (
    AlreadyPast,
    BookingChangedSince,
    BookingMovedOn,
    NotYourBooking,
    Place,
    check_own_change,
    check_place,
    check_self_service,
    notice_hours,
)
from courses.services.claims import claim_place, release_place, take_turn

State, Kind = Booking.State, BookingChange.Kind
HOLDING: Set[str] = {State.PROPOSED, State.ACCEPTED}
OVER: Set[str] = {State.ACCEPTED, State.ATTENDED, State.MISSED}


class NotBegunYet(DomainError):
    def __init__(self) -> None:
        super().__init__("not_begun_yet", "This session has not begun. Say who came once it has.")


class StaffOnly(Denied):
    def __init__(self) -> None:
        super().__init__("staff_only", "Only an educator says who came.")


@transaction.atomic
def propose_booking(*, place: Place, actor: Membership, live_allowed: bool, now: datetime) -> Booking:
    """Holds the place until the student accepts or declines."""
    return _make(place, actor, State.PROPOSED, live_allowed=live_allowed, now=now)


@transaction.atomic
def book(*, place: Place, actor: Membership, live_allowed: bool, now: datetime) -> Booking:
    """Books at once: what a student does herself, or an educator with the student's word."""
    return _make(place, actor, State.ACCEPTED, live_allowed=live_allowed, now=now)


@transaction.atomic
def accept_booking(*, booking: Booking, actor: Membership, seen: int, now: datetime) -> Booking:
    """``seen``: the sequence that the actor was looking at, so nobody accepts a time she has not read."""
    booking = _locked(booking, {State.PROPOSED}, seen)
    if not actor.is_staff_here and actor.pk != booking.student_id:
        raise NotYourBooking
    if booking.starts_at < now and not actor.is_staff_here:
        raise AlreadyPast
    booking.state = State.ACCEPTED
    booking.save(update_fields=["state"])
    _keep(booking, Kind.ACCEPTED, actor, now=now)
    return booking


@transaction.atomic
def move_booking(  # noqa: PLR0913  # who moves what where, as seen when, and why
    *,
    booking: Booking,
    place: Place,
    actor: Membership,
    seen: int,
    live_allowed: bool,
    now: datetime,
    reason: str = "",
) -> Booking:
    """To another time, bench, educator or head; ``seen``: the sequence that the actor was looking at."""
    booking = _locked(booking, HOLDING, seen)
    check_own_change(booking, actor=actor, now=now)
    check_self_service(place, actor=actor, holds=True, now=now)
    check_place(place, live_allowed=live_allowed, now=now)
    before, notice = told(booking), notice_hours(booking, now)
    release_place(booking)
    booking.educator, booking.bench, booking.head = place.educator, place.bench, place.head
    booking.kind, booking.skill, booking.drill = place.kind, place.skill, place.drill
    booking.starts_at, booking.ends_at = place.starts_at, place.ends_at
    booking.sequence += 1
    booking.save()
    claim_place(booking)
    _keep(booking, Kind.MOVED, actor, now=now, reason=reason, before=before, notice=notice)
    enqueue("courses.tasks.offer_places", academy_id=booking.academy_id)
    return booking


@transaction.atomic
def cancel_booking(
    *, booking: Booking, actor: Membership, seen: int, reason: str = "", now: datetime
) -> Booking:
    """Gives the place up; the first who waits for one like it is offered it."""
    booking = _locked(booking, HOLDING, seen)
    check_own_change(booking, actor=actor, now=now)
    before, notice = told(booking), notice_hours(booking, now)
    release_place(booking)
    booking.state, booking.sequence = State.CANCELLED, booking.sequence + 1
    booking.save(update_fields=["state", "sequence"])
    _keep(booking, Kind.CANCELLED, actor, now=now, reason=reason, before=before, notice=notice)
    enqueue("courses.tasks.offer_places", academy_id=booking.academy_id)
    return booking


@transaction.atomic
def mark_attended(*, booking: Booking, actor: Membership, now: datetime) -> Booking:
    return _mark(booking, State.ATTENDED, Kind.ATTENDED, actor, now)


@transaction.atomic
def mark_missed(*, booking: Booking, actor: Membership, now: datetime) -> Booking:
    return _mark(booking, State.MISSED, Kind.MISSED, actor, now)


def told(booking: Booking) -> dict[str, object]:
    """Where and when a booking is, as keys and instants."""
    return {
        "starts_at": booking.starts_at.isoformat(),
        "ends_at": booking.ends_at.isoformat(),
        "bench": booking.bench_id,
        "educator": booking.educator_id,
        "head": booking.head_id,
        "kind": booking.kind_id,
        "skill": booking.skill_id,
        "state": booking.state,
    }


def _make(place: Place, actor: Membership, state: str, *, live_allowed: bool, now: datetime) -> Booking:
    take_turn(place.student.academy_id)
    check_self_service(place, actor=actor, holds=False, now=now)
    check_place(place, live_allowed=live_allowed, now=now)
    booking = Booking.objects.create(
        academy=place.student.academy,
        student=place.student,
        educator=place.educator,
        bench=place.bench,
        head=place.head,
        kind=place.kind,
        skill=place.skill,
        drill=place.drill,
        starts_at=place.starts_at,
        ends_at=place.ends_at,
        time_zone=place.student.academy.time_zone,
        state=state,
        made_by=actor,
        made_at=now,
    )
    claim_place(booking)
    _keep(booking, Kind.MADE, actor, now=now)
    return booking


def _mark(booking: Booking, state: str, kind: str, actor: Membership, now: datetime) -> Booking:
    """Who came may be put right later, as a further change."""
    if not actor.is_staff_here:
        raise StaffOnly
    booking = _locked(booking, OVER - {state})
    if now < booking.starts_at:
        raise NotBegunYet
    before = told(booking)
    booking.state = state
    booking.save(update_fields=["state"])
    release_place(booking)
    _keep(booking, kind, actor, now=now, before=before)
    return booking


def _locked(booking: Booking, states: Set[str], seen: int | None = None) -> Booking:
    take_turn(booking.academy_id)
    found = (
        Booking.objects.select_for_update(of=("self",))
        .select_related("student__user", "student__academy", "educator__user", "bench__room", "kind", "head")
        .get(pk=booking.pk)
    )
    if found.state not in states:
        raise BookingMovedOn(found.get_state_display())
    if seen is not None and found.sequence != seen:
        raise BookingChangedSince
    return found


def _keep(  # noqa: PLR0913  # one change has this many facts
    booking: Booking,
    kind: str,
    actor: Membership,
    *,
    now: datetime,
    reason: str = "",
    before: dict[str, object] | None = None,
    notice: int | None = None,
) -> None:
    """The change, its audit entry, and a letter to those concerned once all is committed."""
    change = BookingChange.objects.create(
        booking=booking,
        kind=kind,
        sequence=booking.sequence,
        before=before or {},
        after=told(booking),
        reason=reason,
        notice_hours=notice,
        made_by=actor,
        at=now,
    )
    record(actor, f"booking_{kind}", booking, now=now, reason=reason, before=before, after=told(booking))
    enqueue("courses.tasks.tell_booking_change", change_id=change.pk)
