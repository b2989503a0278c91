"""Questions about needs; every one is bound to an academy or to one student."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from urllib.parse import urlencode

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from academy.errors import NotHere
from academy.models import Academy, Membership
from assessments.models import DrillCount, Need, NeedBooking
from assessments.scoring.need_rules import BY_HAND, WEAK
from assessments.selectors.grades import local_day, marks_that_count
from assessments.selectors.parameters import newest_parameters
from assessments.selectors.skill import Reckoning, reckoning
from assessments.skill.fading import Fading
from courses.models import Booking, SessionKind, Skill
from courses.selectors.bookings import HOLDING
from courses.selectors.planning import Asked
from courses.selectors.rota import session_kinds

PRIORITY_WORDS = {5: "first of all", 4: "soon", 3: "in turn", 2: "when it fits", 1: "last of all"}
_LEAST_SHOWN, _MOST_SHOWN = 84, 200  # days ahead that a picture reaches
_POINTS = 24
DUE_SOON = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class NeedLine:
    """One open need today. ``booking``: the next place for it. ``days_left`` is negative once overdue."""

    need: Need
    booking: Booking | None
    days_left: int
    book_query: str

    @property
    def is_overdue(self) -> bool:
        return self.days_left < 0

    @property
    def days_late(self) -> int:
        return max(0, -self.days_left)

    @property
    def urgency(self) -> str:
        return PRIORITY_WORDS[self.need.priority]


@dataclass(frozen=True, slots=True)
class NeedPicture:
    """A need with what was counted for it and, where the skill has marks, how it fades until and after it is
    due. ``due_place``: where in ``fading.ahead`` the due day is, today when that is over."""

    line: NeedLine
    counted: int
    fading: Fading | None
    due_place: int

    @property
    def level_now(self) -> float | None:
        return self.fading.level[0] if self.fading else None

    @property
    def level_due(self) -> float | None:
        return self.fading.level[self.due_place] if self.fading else None

    @property
    def left_to_count(self) -> int:
        return max(0, (self.line.need.count_target or 0) - self.counted)


@dataclass(frozen=True, slots=True)
class StudentNeeds:
    """``closed``: the latest, with their evidence."""

    open: tuple[NeedPicture, ...]
    closed: tuple[Need, ...]


def need(academy: Academy, need_id: int) -> Need:
    found = _needs(academy).filter(pk=need_id).first()
    if found is None:
        raise NotHere("need")
    return found


def open_need(academy: Academy, need_id: int) -> Need:
    found = _needs(academy).filter(pk=need_id, closed_at=None).first()
    if found is None:
        raise NotHere("need")
    return found


def open_needs(
    academy: Academy, *, kind: str = "", cohort_id: int | None = None, blind: Collection[int] = ()
) -> QuerySet[Need]:
    """Of current students, first of all first, then by due date; without those of students whom the reader
    marks blind. Two queries with their bookings."""
    found = _needs(academy).filter(closed_at=None, student__left_at=None).exclude(student__in=blind)
    if kind:
        found = found.filter(kind=kind)
    if cohort_id is not None:
        found = found.filter(student__cohort=cohort_id)
    return found.prefetch_related(_held_bookings()).order_by(
        "-priority", "due_on", "student__user__name", "id"
    )


def need_lines(academy: Academy, needs: Iterable[Need], *, now: datetime) -> list[NeedLine]:
    """One query beside the needs and their bookings."""
    today, kinds = local_day(academy, now), list(session_kinds(academy))
    return [_line(each, kinds, today, now) for each in needs]


def needs_due(
    academy: Academy, *, now: datetime, blind: Collection[int] = (), most: int = 6
) -> list[NeedLine]:
    """Overdue ones and those of the next days without a place yet, the earliest first; three queries."""
    until = local_day(academy, now) + DUE_SOON
    held = NeedBooking.objects.filter(
        need=OuterRef("pk"), booking__state__in=HOLDING, booking__ends_at__gt=now
    )
    found = open_needs(academy, blind=blind).filter(~Exists(held), due_on__lte=until)
    return need_lines(academy, found.order_by("due_on", "-priority", "id")[:most], now=now)


def needs_of(student: Membership, *, now: datetime, closed: int = 6) -> StudentNeeds:
    """Nine queries, however many needs and sets there are; three without an open need."""
    rows = list(open_needs(student.academy).filter(student=student))
    lines = need_lines(student.academy, rows, now=now)
    done = _needs(student.academy).filter(student=student, closed_at__isnull=False)
    done = done.select_related("closed_by_grade__practice_set", "closed_by_count__recorded_by__user")
    return StudentNeeds(_pictures(student, lines, now), tuple(done.order_by("-closed_at", "-id")[:closed]))


def planning_needs(academy: Academy, *, first_on: date, last_on: date, now: datetime) -> list[Asked]:
    """One session for each open need, those that are booked on another day left out; three queries."""
    kinds = list(session_kinds(academy))
    found = []
    for each in open_needs(academy):
        kind = kind_for(each, kinds)
        booking = _next_booking(each, now)
        day = academy.date_of(booking.starts_at) if booking else first_on
        if kind and first_on <= day <= last_on:
            found.append(_asked(each, kind, booking))
    return found


def is_served(need: Need, now: datetime) -> bool:
    """Whether a place is held for it that is not over; one query."""
    return need.bookings.filter(booking__state__in=HOLDING, booking__ends_at__gt=now).exists()


def kind_for(need: Need, kinds: Sequence[SessionKind]) -> SessionKind | None:
    """A group drill where a counted drill answers the need, else the supervised bench."""
    forms = [SessionKind.Form.SUPERVISED_BENCH, SessionKind.Form.GROUP_DRILL]
    if need.drill_id and need.kind in {WEAK, BY_HAND}:
        forms.reverse()
    ranked = {form: place for place, form in enumerate(forms)}
    fit = [each for each in kinds if each.form in ranked]
    return min(fit, key=lambda each: (ranked[SessionKind.Form(each.form)], each.pk), default=None)


def _needs(academy: Academy) -> QuerySet[Need]:
    return Need.objects.filter(student__academy=academy).select_related(
        "student__user",
        "student__cohort",
        "student__academy",
        "skill",
        "drill",
        "raised_by__user",
        "raised_from",
    )


def _held_bookings() -> "Prefetch[str, QuerySet[NeedBooking], str]":
    held = NeedBooking.objects.filter(booking__state__in=HOLDING)
    return Prefetch(
        "bookings",
        held.select_related("booking__bench__room", "booking__educator__user").order_by("booking__starts_at"),
    )


def _line(need: Need, kinds: Sequence[SessionKind], today: date, now: datetime) -> NeedLine:
    kind = kind_for(need, kinds)
    asked = {"student": need.student_id, "skill": need.skill_id, "need": need.pk, "first_on": today}
    query = urlencode(asked | {"kind": kind.pk}) if kind else ""
    return NeedLine(need, _next_booking(need, now), (need.due_on - today).days, query)


def _next_booking(need: Need, now: datetime) -> Booking | None:
    """Of the prefetched ones."""
    return next((each.booking for each in need.bookings.all() if each.booking.ends_at > now), None)


def _asked(need: Need, kind: SessionKind, booking: Booking | None) -> Asked:
    return Asked(
        need=need.pk,
        student=need.student_id,
        skill=need.skill_id,
        drill=need.drill_id,
        kind=booking.kind_id if booking else kind.pk,
        priority=need.priority,
        due_on=need.due_on,
        booking=booking.pk if booking else None,
    )


def _pictures(student: Membership, lines: Sequence[NeedLine], now: datetime) -> tuple[NeedPicture, ...]:
    if not lines:
        return ()
    marks = list(marks_that_count(student))
    found = reckoning(marks, list(Skill.objects.all()), newest_parameters(student.academy), now=now)
    counts = list(DrillCount.objects.filter(student=student).values_list("drill_id", "clean_count", "at"))
    return tuple(_picture(each, found, counts) for each in lines)


def _picture(line: NeedLine, found: Reckoning, counts: Sequence[tuple[int, int, datetime]]) -> NeedPicture:
    due = max(0, line.days_left)
    span = min(_MOST_SHOWN, max(_LEAST_SHOWN, 2 * due))
    ahead = sorted({0, min(due, span), *range(0, span + 1, max(1, span // _POINTS)), span})
    fadings: Mapping[str, Fading] = found.fading(ahead)
    need = line.need
    counted = sum(clean for drill, clean, at in counts if drill == need.drill_id and at >= need.raised_at)
    return NeedPicture(line, counted, fadings.get(need.skill.code), ahead.index(min(due, span)))
