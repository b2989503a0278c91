"""A room with benches, hours, and somebody who teaches: enough to book at."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta

from django.utils import timezone

from academy.models import Academy, Membership
from courses.models import (
    Bench,
    Booking,
    ClosedDay,
    FreeException,
    FreeHours,
    OpeningHours,
    Room,
    SessionKind,
    Skill,
    TaughtSkill,
    TimeAway,
    WaitingPlace,
    WorkingHours,
)
from courses.services.booking_checks import Place
from courses.services.catalogue import load_catalogue
from tests.factories.academy import Cast

MADE_AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)  # a Monday
TEN = datetime(2026, 3, 9, 10, 0, tzinfo=UTC)  # the Monday after


@dataclass(frozen=True, slots=True)
class Rota:
    """One room open on weekdays from 9 to 17; two educators who work then and teach every skill."""

    room: Room
    benches: Sequence[Bench]
    supervised: SessionKind
    group: SessionKind
    live: SessionKind


def make_rota(cast: Cast, *, benches: int = 2) -> Rota:
    load_catalogue()
    room = Room.objects.create(academy=cast.academy, name="Front room")
    made = [Bench.objects.create(room=room, name=f"Bench {n}") for n in range(1, benches + 1)]
    for day in range(5):
        OpeningHours.objects.create(academy=cast.academy, weekday=day, starts=time(9), ends=time(17))
    for educator in (cast.ines, cast.second):
        add_hours(educator)
    return Rota(
        room,
        made,
        make_kind(cast.academy, "Supervised bench", SessionKind.Form.SUPERVISED_BENCH, 90, capacity=2),
        make_kind(cast.academy, "Group drill", SessionKind.Form.GROUP_DRILL, 60, capacity=6),
        make_kind(cast.academy, "Live-model day", SessionKind.Form.LIVE_MODEL_DAY, 240, capacity=1),
    )


def add_hours(educator: Membership) -> None:
    WorkingHours.objects.bulk_create(
        WorkingHours(educator=educator, weekday=day, starts=time(9), ends=time(17)) for day in range(5)
    )
    TaughtSkill.objects.bulk_create(
        TaughtSkill(educator=educator, skill=each) for each in Skill.objects.all()
    )


def make_kind(academy: Academy, name: str, form: str, minutes: int, *, capacity: int) -> SessionKind:
    return SessionKind.objects.create(
        academy=academy, name=name, form=form, minutes=minutes, capacity=capacity
    )


def make_free(student: Membership, *days: int, starts: time = time(9), ends: time = time(17)) -> None:
    FreeHours.objects.bulk_create(
        FreeHours(student=student, weekday=day, starts=starts, ends=ends) for day in days or range(5)
    )


def place_for(cast: Cast, rota: Rota, **changes: object) -> Place:
    """Ada with Ines at the first bench on Monday at ten."""
    place = Place(cast.ada, cast.ines, rota.benches[0], rota.supervised, TEN)
    return replace(place, **changes)  # type: ignore[arg-type]


def later(hours: float) -> datetime:
    return TEN + timedelta(hours=hours)


def coming(weeks: int = 1) -> datetime:
    """Ten o'clock on a Monday to come: pages read the clock."""
    now = timezone.now()
    monday = now + timedelta(days=7 * weeks - now.weekday())
    return monday.replace(hour=10, minute=0, second=0, microsecond=0)


def make_times(student: Membership, educator: Membership) -> dict[str, dict[str, object]]:
    """One of everything that the rota keeps, by the names that paths have for them."""
    load_catalogue()
    academy = student.academy
    kind = SessionKind.objects.filter(academy=academy).first() or make_kind(
        academy, "Supervised bench", SessionKind.Form.SUPERVISED_BENCH, 90, capacity=2
    )
    room, _ = Room.objects.get_or_create(academy=academy, name="Front room")
    booking = make_booking(
        student, educator, Bench.objects.create(room=room, name=f"Bench of {student.name}"), kind, TEN
    )
    waiting = WaitingPlace.objects.create(
        student=student, kind=kind, first_on=TEN.date(), last_on=TEN.date(), asked_at=MADE_AT
    )
    exception = FreeException.objects.create(student=student, on=TEN.date())
    closed, _ = ClosedDay.objects.get_or_create(academy=academy, on=TEN.date())
    away, _ = TimeAway.objects.get_or_create(educator=educator, first_on=TEN.date(), last_on=TEN.date())
    spare, _ = Room.objects.get_or_create(academy=academy, name="Spare room")
    return {
        "booking": {"uid": booking.uid},
        "wait": {"waiting_id": waiting.pk},
        "exception": {"exception_id": exception.pk},
        "closed day": {"closed_id": closed.pk},
        "time away": {"away_id": away.pk},
        "room": {"room_id": room.pk},
        "spare room": {"room_id": spare.pk},
        "kind": {"kind_id": kind.pk},
        "educator": {"member_id": educator.pk},
    }


def make_rota_rows(cast: Cast, nth: int) -> None:
    """One more of everything that the pages of a rota show, this week and of Ada."""
    academy = cast.academy
    kind = make_kind(academy, f"Bench session {nth}", SessionKind.Form.SUPERVISED_BENCH, 15, capacity=40)
    room = Room.objects.create(academy=academy, name=f"Room {nth}")
    bench = Bench.objects.create(room=room, name="Bench")
    if not nth:
        for day in range(7):
            OpeningHours.objects.create(academy=academy, weekday=day, starts=time(0), ends=time(23))
        add_hours(cast.ines)
    now = timezone.now()
    make_free(cast.ada, nth % 7, starts=time(nth % 20), ends=time(nth % 20 + 1))
    ClosedDay.objects.create(academy=academy, on=now.date() + timedelta(days=60 + nth))
    FreeException.objects.create(student=cast.ada, on=now.date() + timedelta(days=60 + nth))
    WaitingPlace.objects.create(
        student=cast.ada, kind=kind, first_on=now.date(), last_on=now.date(), asked_at=now
    )
    for when in (now + timedelta(minutes=15 * nth), now - timedelta(days=1, minutes=15 * nth)):
        make_booking(cast.ada, cast.ines, bench, kind, when)


def make_booking(
    student: Membership, educator: Membership, bench: Bench, kind: SessionKind, starts_at: datetime
) -> Booking:
    """An accepted one, without its claims."""
    return Booking.objects.create(
        academy=student.academy,
        student=student,
        educator=educator,
        bench=bench,
        kind=kind,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(minutes=kind.minutes),
        time_zone=student.academy.time_zone,
        state=Booking.State.ACCEPTED,
        made_by=educator,
        made_at=MADE_AT,
    )
