"""What may be booked, and by whom: each check raises a sentence that says what to do."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from academy.errors import Conflict, Denied, DomainError
from academy.models import Academy, Membership
from courses.models import Bench, Booking, Drill, Head, SessionKind, Skill
from courses.planning.availability import EPOCH, QUARTER, Span, covered
from courses.selectors.bookings import open_bookings_of
from courses.selectors.rota import opening_spans, rules_of, taught_skills, working_spans

FARTHEST = timedelta(days=730)  # for everybody; students are held to the academy's own rule


@dataclass(frozen=True, slots=True)
class Place:
    """A student at a bench with an educator, from ``starts_at`` for as long as the kind of session lasts."""

    student: Membership
    educator: Membership
    bench: Bench
    kind: SessionKind
    starts_at: datetime
    head: Head | None = None
    skill: Skill | None = None
    drill: Drill | None = None

    @property
    def ends_at(self) -> datetime:
        return self.starts_at + timedelta(minutes=self.kind.minutes)


class NotOnTheQuarter(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "not_on_the_quarter",
            "Sessions start on a quarter of an hour. Choose a time such as 10:00 or 10:15.",
            field="time",
        )


class AlreadyPast(DomainError):
    def __init__(self) -> None:
        super().__init__("already_past", "This time has passed. Choose a later one.", field="time")


class AcademyClosed(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "academy_closed",
            "The academy is not open for the whole of this session. Choose another time, or change "
            "the opening hours.",
            field="time",
        )


class EducatorNotThere(DomainError):
    def __init__(self, name: str) -> None:
        super().__init__(
            "educator_not_there",
            f"{name} does not work for the whole of this session. Choose another educator or another time.",
            field="educator",
        )


class EducatorNotQualified(DomainError):
    def __init__(self, name: str, skill: str) -> None:
        super().__init__(
            "educator_not_qualified",
            f"{name} is not entered as teaching {skill.lower()}. Choose another educator, or enter the skill "
            "with her working hours.",
            field="educator",
        )


class LiveModelsNotYet(DomainError):
    def __init__(self, name: str) -> None:
        super().__init__(
            "live_models_not_yet",
            f"The live-model gate is not open for {name}. Look at the readiness page for what is missing.",
            field="kind",
        )


class TooFarAhead(Denied):
    def __init__(self, days: int) -> None:
        super().__init__(
            "too_far_ahead",
            f"You can book up to {days} day{_s(days)} ahead. Choose an earlier day.",
            field="time",
        )


class TooManyBookings(Denied):
    def __init__(self, most: int) -> None:
        super().__init__(
            "too_many_bookings",
            f"You already hold {most} booking{_s(most)}, the most at a time. Attend or cancel one first.",
        )


class TooLateToChange(Denied):
    def __init__(self, hours: int) -> None:
        super().__init__(
            "too_late_to_change",
            f"Changes need {hours} hour{_s(hours)} of notice. Ask your educator; she can still change it.",
        )


class NotYourBooking(Denied):
    def __init__(self) -> None:
        super().__init__("not_your_booking", "You can change only your own bookings.")


class BookingMovedOn(Conflict):
    def __init__(self, state: str) -> None:
        super().__init__(
            "booking_moved_on", f"This booking is {state} by now. Look again before changing it."
        )


class BookingChangedSince(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "booking_changed_since", "Somebody changed this booking meanwhile. Look again before changing it."
        )


def check_place(place: Place, *, live_allowed: bool, now: datetime) -> None:
    """Hours, qualification and the gate; bench, head, student and educator are kept apart by their claims.

    Up to seven queries. ``live_allowed``: the caller knows that the student's gate is open.
    """
    if (place.starts_at - EPOCH) % QUARTER:
        raise NotOnTheQuarter
    if place.starts_at < now:
        raise AlreadyPast
    if place.starts_at > now + FARTHEST:
        raise TooFarAhead(FARTHEST.days)
    if place.kind.form == SessionKind.Form.LIVE_MODEL_DAY and not live_allowed:
        raise LiveModelsNotYet(place.student.name)
    _check_hours(place)
    taught = taught_skills(place.student.academy)
    if place.skill and place.skill.pk not in taught.get(place.educator.pk, frozenset()):
        raise EducatorNotQualified(place.educator.name, place.skill.name)


def check_self_service(place: Place, *, actor: Membership, holds: bool, now: datetime) -> None:
    """What a student may book herself; staff may book all. ``holds``: she moves a booking that she holds."""
    if actor.is_staff_here:
        return
    if actor.pk != place.student.pk:
        raise NotYourBooking
    rules = rules_of(actor.academy)
    if place.starts_at > now + timedelta(days=rules.days_ahead):
        raise TooFarAhead(rules.days_ahead)
    if not holds and open_bookings_of(actor, now).count() >= rules.open_bookings:
        raise TooManyBookings(rules.open_bookings)


def check_own_change(booking: Booking, *, actor: Membership, now: datetime) -> None:
    """A student changes her own booking in time, a proposed one at any time; staff may change every one."""
    if actor.is_staff_here:
        return
    if actor.pk != booking.student_id:
        raise NotYourBooking
    if booking.state == Booking.State.PROPOSED:
        return
    hours = rules_of(actor.academy).notice_hours
    if booking.starts_at - now < timedelta(hours=hours):
        raise TooLateToChange(hours)


def notice_hours(booking: Booking, now: datetime) -> int | None:
    """Whole hours before the start; None once it has begun."""
    left = booking.starts_at - now
    return left // timedelta(hours=1) if left >= timedelta(0) else None


def _s(count: int) -> str:
    return "" if count == 1 else "s"


def _check_hours(place: Place) -> None:
    academy: Academy = place.student.academy
    day = place.starts_at.astimezone(ZoneInfo(academy.time_zone)).date()
    span = Span(place.starts_at, place.ends_at)
    if not covered(span, opening_spans(academy, day, day)):
        raise AcademyClosed
    if not covered(span, working_spans(academy, day, day).get(place.educator.pk, ())):
        raise EducatorNotThere(place.educator.name)
