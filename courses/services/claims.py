"""Quarters of an hour that a booking holds: the unique key of the database decides who comes first."""

from collections import Counter
from collections.abc import Iterable

from django.db import IntegrityError, transaction

from academy.errors import Conflict
from academy.models import Academy
from courses.models import Booking, Claim
from courses.planning.availability import quarters


class PlaceTaken(Conflict):
    """``what``: bench, head, student or educator."""

    def __init__(self, what: str, name: str) -> None:
        told = {
            "bench": f"{name} is taken at this time. Choose another bench or another time.",
            "head": f"{name} is needed by another booking at this time. Choose another head or another time.",
            "student": f"{name} already has a booking at this time. Choose another time.",
            "educator": f"{name} has no place left at this time. Choose another educator or another time.",
        }
        super().__init__("place_taken", told[what], what=what)


def take_turn(academy_id: int) -> None:
    """Those who book in one academy go one after another until their transaction ends.

    Before any other lock: two who swap benches would otherwise wait for each other for ever.
    """
    Academy.objects.select_for_update(no_key=True).get(pk=academy_id)


def claim_place(booking: Booking) -> None:
    """Take bench, head, student and a seat with the educator; raises PlaceTaken and then holds nothing new.

    Of two people who ask at the same instant one gets the place. Six queries at most.
    """
    _take(booking, Claim.What.STUDENT, booking.student_id, booking.student.name)
    _take(booking, Claim.What.BENCH, booking.bench_id, booking.bench.name)
    if booking.head:
        _take(booking, Claim.What.HEAD, booking.head.pk, booking.head.name)
    _take_seat(booking)


def release_place(booking: Booking) -> None:
    booking.claims.all().delete()


def _take(booking: Booking, what: Claim.What, whom: int, name: str, seat: int = 0) -> None:
    try:
        with transaction.atomic():
            Claim.objects.bulk_create(_claims(booking, what, whom, seat))
    except IntegrityError as error:
        raise PlaceTaken(what, name) from error


def _take_seat(booking: Booking) -> None:
    """The lowest seat that is free throughout, while no session there looks after fewer students than come.

    Whoever counts has taken her turn before.
    """
    held = list(
        Claim.objects.filter(
            what=Claim.What.EDUCATOR,
            whom=booking.educator_id,
            quarter__in=quarters(booking.starts_at, booking.ends_at),
        ).values_list("quarter", "seat", "booking__kind__capacity")
    )
    smallest = min([booking.kind.capacity, *(capacity for _, _, capacity in held)])
    busiest = max(Counter(quarter for quarter, _, _ in held).values(), default=0)
    if busiest >= smallest:
        raise PlaceTaken(Claim.What.EDUCATOR, booking.educator.name)
    seat = min(set(range(len(held) + 1)) - {seat for _, seat, _ in held})
    _take(booking, Claim.What.EDUCATOR, booking.educator_id, booking.educator.name, seat)


def _claims(booking: Booking, what: Claim.What, whom: int, seat: int) -> Iterable[Claim]:
    return [
        Claim(booking=booking, what=what, whom=whom, seat=seat, quarter=quarter)
        for quarter in quarters(booking.starts_at, booking.ends_at)
    ]
