"""Everything kept about one practice set, for its page and its mark sheet."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import OuterRef, QuerySet, Subquery

from academy.errors import NotHere
from academy.models import Membership
from assessments.models import Grade, PracticeSet
from assessments.scoring.timing import Clock, Event, EventKind, read_clock
from assessments.selectors.faults import FaultMap, fault_map
from assessments.selectors.grades import revisions
from assessments.selectors.sets import TIMING, practice_set, timing_events


@dataclass(frozen=True, slots=True)
class Pause:
    """``lasted_s`` is None while it lasts."""

    at: datetime
    lasted_s: float | None
    reason: str


@dataclass(frozen=True, slots=True)
class SetRecord:
    """``grades`` has the newest revision first and is empty before signing; ``faults`` comes with it."""

    practice_set: PracticeSet
    clock: Clock
    pauses: tuple[Pause, ...]
    grades: tuple[Grade, ...]
    faults: FaultMap | None

    @property
    def grade(self) -> Grade | None:
        return self.grades[0] if self.grades else None

    @property
    def earlier(self) -> tuple[Grade, ...]:
        return self.grades[1:]


def set_for(member: Membership, uid: UUID) -> PracticeSet:
    """A set this member may see: any of the academy for staff, only her own for a student."""
    found = practice_set(member.academy, uid)
    if not member.is_staff_here and found.student_id != member.pk:
        raise NotHere("practice set")
    return found


def record_of(practice_set: PracticeSet, *, now: datetime) -> SetRecord:
    """Seven queries for a graded set, two before."""
    events = timing_events(practice_set.events.filter(kind__in=TIMING))
    grades = tuple(revisions(practice_set))
    return SetRecord(
        practice_set=practice_set,
        clock=read_clock(events, now=now),
        pauses=pauses(events),
        grades=grades,
        faults=fault_map(grades[0].inspection, practice_set.brief) if grades else None,
    )


def pauses(events: Sequence[Event]) -> tuple[Pause, ...]:
    """Each pause with its length, up to the resume, finish or abandoning that ended it."""
    found = []
    for number, event in enumerate(events):
        if event.kind == EventKind.PAUSE:
            after = events[number + 1] if number + 1 < len(events) else None
            lasted = (after.at - event.at).total_seconds() if after else None
            found.append(Pause(event.at, lasted, event.reason))
    return tuple(found)


def sets_of(student: Membership) -> QuerySet[PracticeSet]:
    """Every set of the student, newest first, with ``score`` and ``gates_passed`` of the marks that count."""
    newest = Grade.objects.filter(practice_set=OuterRef("pk")).order_by("-revision")
    return (
        PracticeSet.objects.filter(student=student)
        .select_related("brief__brief", "head")
        .annotate(
            score=Subquery(newest.values("score")[:1]),
            gates_passed=Subquery(newest.values("gates_passed")[:1]),
        )
        .order_by("-number")
    )
