"""From rows to what the planner reads: instants in minutes of UTC, rows by their keys as text."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from academy.errors import NotHere
from academy.models import Academy, Membership
from courses.models import Bench, Booking, Head, ProposalLine, RotaProposal, RotaRules, SessionKind, Skill
from courses.planning import problem as plan
from courses.planning.availability import EPOCH, Span, days_between
from courses.selectors.bookings import HOLDING, bookings_between
from courses.selectors.rota import (
    benches,
    educators,
    free_spans,
    opening_spans,
    rules_of,
    session_kinds,
    taught_skills,
    working_spans,
)

STEP_MIN = 30
Form = SessionKind.Form


@dataclass(frozen=True, slots=True)
class Asked:
    """One session that is wanted, by keys. ``booking``: the one that is held for it, which may be moved."""

    need: int
    student: int
    skill: int
    drill: int | None
    kind: int
    priority: int
    due_on: date
    booking: int | None = None


@dataclass(frozen=True, slots=True)
class Gathered:
    """``untold``: names of students who have entered no free times, so any opening hour counts as free."""

    problem: plan.Problem
    bookings: Mapping[str, Booking]
    untold: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Days:
    """The planned days, whole, in the academy's zone."""

    academy: Academy
    first_on: date
    last_on: date

    @property
    def starts(self) -> tuple[int, ...]:
        zone = ZoneInfo(self.academy.time_zone)
        days = days_between(self.first_on, self.last_on + timedelta(days=1))
        return tuple(minutes(datetime.combine(day, time.min, zone)) for day in days)

    def end_of(self, day: date) -> int:
        zone = ZoneInfo(self.academy.time_zone)
        return minutes(datetime.combine(day + timedelta(days=1), time.min, zone))


def minutes(instant: datetime) -> int:
    """Of UTC since 1970."""
    return int((instant - EPOCH) // timedelta(minutes=1))


def instant(minute: int) -> datetime:
    return EPOCH + timedelta(minutes=minute)


def gather(
    academy: Academy, asked: Sequence[Asked], first_on: date, last_on: date, *, now: datetime
) -> Gathered:
    """Sixteen queries, however many needs, benches and bookings there are."""
    days, rules = _Days(academy, first_on, last_on), rules_of(academy)
    held = _held(days)
    kinds = {each.pk: each for each in [*session_kinds(academy), *(row.kind for row in held)]}
    wanted = [each for each in asked if each.kind in kinds]
    people = _students(academy, {each.student for each in wanted} | {row.student_id for row in held})
    opening = _spans(opening_spans(academy, first_on, last_on))
    free = free_spans(academy, first_on, last_on, people)
    heads = list(Head.objects.filter(academy=academy, retired_at=None))
    needs = {each.booking: str(each.need) for each in wanted if each.booking}
    found = plan.Problem(
        day_starts=days.starts,
        frozen_until=minutes(now + timedelta(hours=rules.notice_hours)),
        students=tuple(_student(key, name, free, opening) for key, name in people.items()),
        educators=_educators(academy, first_on, last_on),
        rooms=_rooms(academy, opening),
        heads=tuple(plan.Head(str(each.pk), each.name, each.layers) for each in heads),
        kinds=tuple(_kind(each, bool(heads)) for each in kinds.values()),
        needs=tuple(_need(each, kinds, days, rules, now) for each in wanted),
        booked=tuple(_booked(row, needs.get(row.pk)) for row in held),
        step_min=STEP_MIN,
        long_min=rules.long_minutes,
    )
    asking = {each.student for each in wanted}
    untold = tuple(name for key, name in people.items() if key in asking and not free.get(key))
    return Gathered(found, {str(row.pk): row for row in held}, untold)


def proposals(academy: Academy) -> QuerySet[RotaProposal]:
    """Newest first."""
    return RotaProposal.objects.filter(academy=academy).select_related("made_by__user", "academy")


def proposal(academy: Academy, uid: UUID) -> RotaProposal:
    found = proposals(academy).filter(uid=uid).first()
    if found is None:
        raise NotHere("plan")
    return found


def lines_of(found: RotaProposal) -> list[ProposalLine]:
    """In order of time, each with ``skill_name``; two queries."""
    rows = list(ProposalLine.objects.filter(proposal=found).select_related("student__user", "booking"))
    names = dict(Skill.objects.values_list("pk", "name"))
    for row in rows:
        row.skill_name = names.get(row.content.get("skill"), "")  # type: ignore[attr-defined]
    return rows


def open_lines(found: RotaProposal) -> QuerySet[ProposalLine]:
    return ProposalLine.objects.filter(proposal=found, state=ProposalLine.State.OPEN).exclude(
        change__in=[ProposalLine.Change.UNCHANGED, ProposalLine.Change.UNPLACED]
    )


def _held(days: _Days) -> list[Booking]:
    """Bookings that hold a place and begin within the days."""
    starts = days.starts
    rows = bookings_between(days.academy, instant(starts[0]), instant(starts[-1]))
    return [row for row in rows.filter(state__in=HOLDING) if starts[0] <= minutes(row.starts_at) < starts[-1]]


def _students(academy: Academy, keys: set[int]) -> dict[int, str]:
    rows = Membership.objects.filter(academy=academy, pk__in=keys).select_related("user")
    return {row.pk: row.name for row in rows.order_by("user__name", "pk")}


def _student(
    key: int, name: str, free: Mapping[int, tuple[Span, ...]], opening: tuple[plan.Span, ...]
) -> plan.Student:
    told = free.get(key)
    return plan.Student(str(key), name, _spans(told) if told else opening)


def _educators(academy: Academy, first_on: date, last_on: date) -> tuple[plan.Educator, ...]:
    working, taught = working_spans(academy, first_on, last_on), taught_skills(academy)
    return tuple(
        plan.Educator(
            str(each.pk),
            each.name,
            _spans(working.get(each.pk, ())),
            frozenset(map(str, taught.get(each.pk, ()))),
        )
        for each in educators(academy)
    )


def _rooms(academy: Academy, opening: tuple[plan.Span, ...]) -> tuple[plan.Room, ...]:
    found: dict[int, list[Bench]] = {}
    for each in benches(academy):
        found.setdefault(each.room_id, []).append(each)
    return tuple(
        plan.Room(
            str(key), row[0].room.name, opening, tuple(plan.Bench(str(each.pk), each.name) for each in row)
        )
        for key, row in found.items()
    )


def _kind(kind: SessionKind, has_heads: bool) -> plan.SessionKind:
    """A head is held for a supervised bench, where the academy has entered its heads."""
    return plan.SessionKind(
        code=str(kind.pk),
        name=kind.name,
        capacity=kind.capacity,
        is_group=kind.form == Form.GROUP_DRILL,
        needs_head=has_heads and kind.form == Form.SUPERVISED_BENCH,
    )


def _need(
    asked: Asked, kinds: Mapping[int, SessionKind], days: _Days, rules: RotaRules, now: datetime
) -> plan.Need:
    return plan.Need(
        code=str(asked.need),
        student=str(asked.student),
        skill=str(asked.skill),
        drill=_drill(asked.drill, asked.skill),
        kind=str(asked.kind),
        length_min=kinds[asked.kind].minutes,
        earliest=max(days.starts[0], minutes(now)),
        due=days.end_of(asked.due_on),
        priority=asked.priority,
        least_days=rules.spacing_days_low,
        most_days=rules.spacing_days_high,
    )


def _booked(row: Booking, need: str | None) -> plan.Booked:
    skill = row.skill_id or 0
    return plan.Booked(
        code=str(row.pk),
        student=str(row.student_id),
        skill=str(skill),
        drill=_drill(row.drill_id, skill),
        kind=str(row.kind_id),
        span=plan.Span(minutes(row.starts_at), minutes(row.ends_at)),
        educator=str(row.educator_id),
        room=str(row.bench.room_id),
        bench=str(row.bench_id),
        head=None if row.head_id is None else str(row.head_id),
        need=need,
    )


def _drill(drill: int | None, skill: int) -> str:
    """Without a drill, those who work on one skill do the same."""
    return f"drill {drill}" if drill else f"skill {skill}"


def _spans(spans: Iterable[Span]) -> tuple[plan.Span, ...]:
    return tuple(plan.Span(minutes(each.starts), minutes(each.ends)) for each in spans)
