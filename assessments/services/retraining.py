"""Needs and the rota below: a place booked for a need, and the plan that serves all of them."""

from datetime import datetime

from django.db import transaction

from academy.errors import Conflict
from academy.models import Membership
from assessments.models import Need, NeedBooking
from courses.models import Booking
from courses.services.booking_checks import Place
from courses.services.bookings import book


class NeedIsClosed(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "need_is_closed", "This need has been answered meanwhile. Book without it, or look again."
        )


@transaction.atomic
def book_for_need(
    *, need: Need, place: Place, actor: Membership, live_allowed: bool, now: datetime
) -> Booking:
    """Books a place that fits the need: its student and its skill."""
    if Need.objects.select_for_update().get(pk=need.pk).closed_at is not None:
        raise NeedIsClosed
    booking = book(place=place, actor=actor, live_allowed=live_allowed, now=now)
    NeedBooking.objects.create(need=need, booking=booking)
    return booking
