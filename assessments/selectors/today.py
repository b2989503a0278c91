from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Max, Prefetch, QuerySet
from django.db.models.functions import Coalesce

from academy.models import Academy, Membership
from academy.selectors.people import students
from assessments.models import GateStanding, Grade, PracticeSet, SetEvent
from assessments.models.sets import HEAD_IN_USE, UNDER_WAY
from assessments.scoring.timing import Clock, read_clock
from assessments.selectors.grades import days_between, grade_lines
from assessments.selectors.readiness import gates_waiting
from assessments.selectors.sets import AWAITS_SECOND_LOOK, TIMING, set_lines, timing_events
from courses.models import Head

UNSEEN_AFTER = timedelta(days=14)
_SHOWN = 8
_WAITING = ("finished", "inspected")


@dataclass(frozen=True, slots=True)
class SetUnderWay:
    practice_set: PracticeSet
    clock: Clock


@dataclass(frozen=True, slots=True)
class HeadUse:
    """A head and the set on it; None when it is free."""

    head: Head
    practice_set: PracticeSet | None


@dataclass(frozen=True, slots=True)
class UnseenStudent:
    """A student without a set for a while; ``idle_days`` is None when there never was one."""

    student: Membership
    idle_days: int | None


@dataclass(frozen=True, slots=True)
class Today:
    """What is going on and what waits; ``unseen_count`` may be more than the few in ``unseen``.

    ``gates``: students who have reached the gate to live models and wait for signatures.
    """

    under_way: tuple[SetUnderWay, ...]
    to_inspect: tuple[PracticeSet, ...]
    to_mark: tuple[PracticeSet, ...]
    heads: tuple[HeadUse, ...]
    unseen: tuple[UnseenStudent, ...]
    unseen_count: int
    signed: tuple[Grade, ...]
    gates: tuple[GateStanding, ...]

    @property
    def unseen_more(self) -> int:
        return self.unseen_count - len(self.unseen)

    @property
    def heads_free(self) -> int:
        return sum(use.practice_set is None for use in self.heads)


def today_in(academy: Academy, *, now: datetime, hidden: Collection[int] = ()) -> Today:
    """The day at one academy; nine queries, however many students and sets there are.

    ``hidden``: sets whose marks the reader may not see.
    """
    timing = SetEvent.objects.filter(kind__in=TIMING)
    open_sets = list(
        set_lines(academy)
        .filter(state__in=(*UNDER_WAY, *_WAITING))
        .prefetch_related(Prefetch("events", timing))
        .order_by("created_at")
    )
    unseen = _unseen(academy, now)
    return Today(
        under_way=tuple(_under_way(row, now) for row in open_sets if row.state in UNDER_WAY),
        to_inspect=tuple(row for row in open_sets if row.state == "finished"),
        to_mark=tuple(row for row in open_sets if row.state == "inspected"),
        heads=_head_uses(academy, open_sets),
        unseen=tuple(_unseen_student(academy, row, now) for row in unseen[:_SHOWN]),
        unseen_count=unseen.count(),
        signed=_signed(academy, hidden),
        gates=tuple(gates_waiting(academy)),
    )


def _under_way(practice_set: PracticeSet, now: datetime) -> SetUnderWay:
    return SetUnderWay(practice_set, read_clock(timing_events(practice_set.events.all()), now=now))


def _head_uses(academy: Academy, open_sets: Sequence[PracticeSet]) -> tuple[HeadUse, ...]:
    on_head = {row.head_id: row for row in set_lines(academy).filter(AWAITS_SECOND_LOOK)}
    on_head |= {row.head_id: row for row in open_sets if row.state in HEAD_IN_USE}
    heads = Head.objects.filter(academy=academy, retired_at=None)
    return tuple(HeadUse(head, on_head.get(head.pk)) for head in heads)


def _signed(academy: Academy, hidden: Collection[int]) -> tuple[Grade, ...]:
    """Marks of the latest graded sets; found by set, because that index ends at the newest."""
    graded = PracticeSet.objects.filter(academy=academy, state="graded").exclude(pk__in=hidden)
    latest = list(graded.values_list("pk", flat=True)[:_SHOWN])
    return tuple(grade_lines(academy).filter(practice_set__in=latest).order_by("-signed_at"))


def _unseen(academy: Academy, now: datetime) -> QuerySet[Membership]:
    """Longest away first; those without any set count from the day they joined."""
    last = Max("practice_sets__created_at")
    away = students(academy).annotate(last_set_at=last, since=Coalesce(last, "joined_at"))
    return away.filter(since__lt=now - UNSEEN_AFTER).order_by("since", "pk")


def _unseen_student(academy: Academy, row: Membership, now: datetime) -> UnseenStudent:
    last: datetime | None = row.last_set_at  # type: ignore[attr-defined]
    return UnseenStudent(row, None if last is None else days_between(academy, last, now))
