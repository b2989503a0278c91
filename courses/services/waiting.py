"""The waiting list: who asked first is offered a freed place first, one place at a time."""

from datetime import date, datetime, timedelta

from django.db import IntegrityError, transaction
from django.db.models import Q, QuerySet

from academy.errors import Conflict, Denied, DomainError
from academy.models import Academy, Membership
from academy.services.audit import record
from courses.models import Booking, SessionKind, Skill, WaitingPlace
from courses.selectors.bookings import HOLDING, SETTLED, waiting_places
from courses.selectors.free_places import Offer, offers_for
from courses.selectors.rota import rules_of
from courses.services.booking_checks import LiveModelsNotYet, Place
from courses.services.bookings import propose_booking
from courses.services.claims import PlaceTaken, take_turn

TIME_TO_ANSWER = timedelta(hours=24)  # a place that begins sooner is offered to nobody


class AlreadyWaiting(Conflict):
    def __init__(self, kind: str) -> None:
        super().__init__("already_waiting", f"You already wait for a place of this kind: {kind.lower()}.")


class NoDaysToWait(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "no_days_to_wait",
            "The last day is over, or before the first. Choose other days.",
            field="last_on",
        )


class TooLongToWait(DomainError):
    def __init__(self, days: int) -> None:
        super().__init__(
            "too_long_to_wait",
            f"Places are given up to {days} days ahead. Choose an earlier last day.",
            field="last_on",
        )


class NotYourWait(Denied):
    def __init__(self) -> None:
        super().__init__("not_your_wait", "You can change only your own place on the waiting list.")


@transaction.atomic
def wait_for_place(  # noqa: PLR0913  # who waits for what, on which days
    *,
    student: Membership,
    kind: SessionKind,
    skill: Skill | None,
    first_on: date,
    last_on: date,
    actor: Membership,
    now: datetime,
) -> WaitingPlace:
    """Live-model days are given by an educator, because they wait for the gate."""
    if not actor.is_staff_here and actor.pk != student.pk:
        raise NotYourWait
    if kind.form == SessionKind.Form.LIVE_MODEL_DAY:
        raise LiveModelsNotYet(student.name)
    today, days_ahead = student.academy.date_of(now), rules_of(student.academy).days_ahead
    if last_on < first_on or last_on < today:
        raise NoDaysToWait
    if last_on > today + timedelta(days=days_ahead):
        raise TooLongToWait(days_ahead)
    _close_what_is_over(student.waiting_places.filter(closed_at=None), today, now)
    try:
        with transaction.atomic():
            waiting = WaitingPlace.objects.create(
                student=student, kind=kind, skill=skill, first_on=first_on, last_on=last_on, asked_at=now
            )
    except IntegrityError as error:
        raise AlreadyWaiting(kind.name) from error
    record(actor, "wait_for_place", waiting, now=now)
    return waiting


@transaction.atomic
def stop_waiting(*, waiting: WaitingPlace, actor: Membership, now: datetime) -> None:
    """A second time changes nothing."""
    if not actor.is_staff_here and actor.pk != waiting.student_id:
        raise NotYourWait
    if WaitingPlace.objects.filter(pk=waiting.pk, closed_at=None).update(closed_at=now):
        record(actor, "stop_waiting", waiting, now=now)


@transaction.atomic
def offer_places(*, academy: Academy, now: datetime) -> list[Booking]:
    """Propose a place to each who waits and for whom there is one, first come first; one open offer each.

    A wait ends when its offer is accepted, or when its last day is over. Nine queries for each who waits.
    """
    today = academy.date_of(now)
    take_turn(academy.pk)
    _close_what_is_over(waiting_places(academy), today, now)
    made = []
    for waiting in waiting_places(academy).select_for_update(of=("self",)):
        if not waiting.offered or waiting.offered.state not in HOLDING:
            made += _offer(waiting, academy, now)
    return made


def _close_what_is_over(waiting: QuerySet[WaitingPlace], today: date, now: datetime) -> None:
    over = waiting.filter(Q(last_on__lt=today) | Q(offered__state__in=SETTLED))
    WaitingPlace.objects.filter(pk__in=[each.pk for each in over]).update(closed_at=now)


def _offer(waiting: WaitingPlace, academy: Academy, now: datetime) -> list[Booking]:
    """The place offered now, if there is one that was not declined before."""
    waiting.student.academy = academy
    days = max(waiting.first_on, academy.date_of(now)), waiting.last_on
    declined = set(
        Booking.objects.filter(
            student=waiting.student,
            kind=waiting.kind,
            state=Booking.State.CANCELLED,
            made_at__gte=waiting.asked_at,
        ).values_list("starts_at", flat=True)
    )
    for offer in offers_for(
        waiting.student, waiting.kind, waiting.skill, days, earliest=now + TIME_TO_ANSWER
    ):
        if offer.starts_at not in declined:
            return _propose(waiting, offer, now)
    return []


def _propose(waiting: WaitingPlace, offer: Offer, now: datetime) -> list[Booking]:
    """Made in the name of the educator who will be there; somebody else may have been quicker."""
    place = Place(
        student=waiting.student,
        educator=offer.educator,
        bench=offer.bench,
        kind=waiting.kind,
        starts_at=offer.starts_at,
        skill=waiting.skill,
    )
    try:
        booking = propose_booking(place=place, actor=offer.educator, live_allowed=False, now=now)
    except PlaceTaken:
        return []
    waiting.offered = booking
    waiting.save(update_fields=["offered"])
    return [booking]
