"""Questions about places and hours; every one is bound to an academy."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, time
from zoneinfo import ZoneInfo

from django.db.models import Case, Prefetch, QuerySet, When

from academy.errors import NotHere
from academy.models import Academy, Membership, Role
from courses.models import (
    Bench,
    ClosedDay,
    FreeException,
    FreeHours,
    OpeningHours,
    Room,
    RotaRules,
    SessionKind,
    TaughtSkill,
    TimeAway,
    WorkingHours,
)
from courses.planning.availability import Hours, Span, common, days_between, spans

Spans = tuple[Span, ...]
EVERY_DAY = [Hours(day, time.min, time(23, 59)) for day in range(7)]


def rules_of(academy: Academy) -> RotaRules:
    """The academy's rules, or the defaults, unsaved."""
    return RotaRules.objects.filter(academy=academy).first() or RotaRules(academy=academy)


def rooms(academy: Academy) -> QuerySet[Room]:
    """Rooms in use, each with ``benches`` in use; two queries."""
    in_use = Bench.objects.filter(retired_at=None).order_by("name")
    return Room.objects.filter(academy=academy, retired_at=None).prefetch_related(Prefetch("benches", in_use))


def room(academy: Academy, room_id: int) -> Room:
    found = rooms(academy).filter(pk=room_id).first()
    if found is None:
        raise NotHere("room")
    return found


def benches(academy: Academy) -> QuerySet[Bench]:
    """Benches in use, by room and name."""
    return (
        Bench.objects.filter(room__academy=academy, room__retired_at=None, retired_at=None)
        .select_related("room")
        .order_by("room__name", "name")
    )


def bench(academy: Academy, bench_id: int) -> Bench:
    found = benches(academy).filter(pk=bench_id).first()
    if found is None:
        raise NotHere("bench")
    return found


def session_kinds(academy: Academy) -> QuerySet[SessionKind]:
    """Those in use, the everyday ones first."""
    everyday = Case(*(When(form=form, then=nth) for nth, form in enumerate(SessionKind.Form)))
    return SessionKind.objects.filter(academy=academy, retired_at=None).order_by(everyday, "name")


def session_kind(academy: Academy, kind_id: int) -> SessionKind:
    found = session_kinds(academy).filter(pk=kind_id).first()
    if found is None:
        raise NotHere("kind of session")
    return found


def closed_days(academy: Academy, first_on: date, last_on: date) -> QuerySet[ClosedDay]:
    return ClosedDay.objects.filter(academy=academy, on__range=(first_on, last_on))


def opening_spans(academy: Academy, first_on: date, last_on: date) -> Spans:
    """When the academy is open on these days, both included; two queries."""
    hours = [_hours(each) for each in OpeningHours.objects.filter(academy=academy)]
    return spans(hours, _open_days(academy, first_on, last_on), ZoneInfo(academy.time_zone))


def working_spans(academy: Academy, first_on: date, last_on: date) -> dict[int, Spans]:
    """By educator: when she works and the academy is open; four queries for any number of educators."""
    opening, zone = opening_spans(academy, first_on, last_on), ZoneInfo(academy.time_zone)
    away: dict[int, set[date]] = {}
    for each in TimeAway.objects.filter(
        educator__academy=academy, first_on__lte=last_on, last_on__gte=first_on
    ):
        away.setdefault(each.educator_id, set()).update(
            days_between(max(first_on, each.first_on), min(last_on, each.last_on))
        )
    weekly = _by_person(
        WorkingHours.objects.filter(educator__academy=academy, educator__left_at=None), "educator_id"
    )
    return {
        educator: common(
            opening,
            spans(
                hours,
                (day for day in days_between(first_on, last_on) if day not in away.get(educator, ())),
                zone,
            ),
        )
        for educator, hours in weekly.items()
    }


def free_spans(
    academy: Academy, first_on: date, last_on: date, students: Iterable[int] | None = None
) -> dict[int, Spans]:
    """By student: when she says she can come; two queries for any number of students.

    Who has entered only days that differ is taken to be free on all others. Who has entered nothing is left
    out.
    """
    weekly = FreeHours.objects.filter(student__academy=academy, student__left_at=None)
    other = FreeException.objects.filter(student__academy=academy, on__range=(first_on, last_on))
    if students is not None:
        weekly, other = weekly.filter(student__in=students), other.filter(student__in=students)
    instead: dict[int, dict[date, Sequence[Hours]]] = {}
    for each in other:
        instead.setdefault(each.student_id, {})[each.on] = _exception(each)
    hours, days, zone = (
        _by_person(weekly, "student_id"),
        days_between(first_on, last_on),
        ZoneInfo(academy.time_zone),
    )
    return {
        student: spans(hours.get(student, EVERY_DAY), days, zone, instead.get(student))
        for student in hours.keys() | instead.keys()
    }


def taught_skills(academy: Academy) -> dict[int, frozenset[int]]:
    """Skills that each educator may teach, by key; an educator without a row may teach none."""
    found: dict[int, frozenset[int]] = {}
    for educator, skill in TaughtSkill.objects.filter(
        educator__academy=academy, educator__left_at=None
    ).values_list("educator_id", "skill_id"):
        found[educator] = found.get(educator, frozenset()) | {skill}
    return found


def educators(academy: Academy) -> QuerySet[Membership]:
    """Who can look after a session: educators and owners of today."""
    return (
        Membership.objects.filter(academy=academy, left_at=None, role__in=[Role.OWNER, Role.EDUCATOR])
        .select_related("user")
        .order_by("user__name", "id")
    )


def _open_days(academy: Academy, first_on: date, last_on: date) -> list[date]:
    closed = set(closed_days(academy, first_on, last_on).values_list("on", flat=True))
    return [day for day in days_between(first_on, last_on) if day not in closed]


def _by_person(rows: Iterable[WorkingHours | FreeHours], key: str) -> Mapping[int, list[Hours]]:
    found: dict[int, list[Hours]] = {}
    for row in rows:
        found.setdefault(getattr(row, key), []).append(_hours(row))
    return found


def _hours(row: OpeningHours | WorkingHours | FreeHours) -> Hours:
    return Hours(row.weekday, row.starts, row.ends)


def _exception(row: FreeException) -> Sequence[Hours]:
    return [Hours(row.on.weekday(), row.starts, row.ends)] if row.starts and row.ends else []


def educator(academy: Academy, member_id: int) -> Membership:
    found = educators(academy).filter(pk=member_id).first()
    if found is None:
        raise NotHere("educator")
    return found


def closed_day(academy: Academy, closed_id: int) -> ClosedDay:
    found = ClosedDay.objects.filter(academy=academy, pk=closed_id).first()
    if found is None:
        raise NotHere("closed day")
    return found


def time_away(academy: Academy, away_id: int) -> TimeAway:
    found = TimeAway.objects.filter(educator__academy=academy, pk=away_id).first()
    if found is None:
        raise NotHere("time away")
    return found
