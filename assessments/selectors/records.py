"""Everything kept about one practice set, for its page and its mark sheet."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import OuterRef, QuerySet, Subquery

from academy.errors import NotHere
from academy.models import Membership
from academy.parts import Facts, facts_of
from assessments.models import Grade, Mark, PracticeSet
from assessments.scoring.timing import Clock, Event, EventKind, Split, read_clock
from assessments.selectors.faults import FaultMap, fault_map
from assessments.selectors.grades import Gate, gates_of, revisions
from assessments.selectors.second_marks import refuse_blind
from assessments.selectors.sets import TIMING, practice_set, timing_events
from courses.selectors.catalogue import catalogue_words
from courses.words import EYE_WORDS, LAYER_WORDS


@dataclass(frozen=True, slots=True)
class Pause:
    """``lasted_s`` is None while it lasts."""

    at: datetime
    lasted_s: float | None
    reason: str


@dataclass(frozen=True, slots=True)
class NamedSplit:
    """Seconds worked since the split before it, and since the start."""

    name: str
    worked_s: float
    total_s: float


@dataclass(frozen=True, slots=True)
class MarkLine:
    """One mark as it is told: ``how`` it was found, what a person changed, what this level looks like."""

    name: str
    is_gate: bool
    level: int
    how: str
    remark: str
    descriptor: str


@dataclass(frozen=True, slots=True)
class Revision:
    grade: Grade
    marks: tuple[MarkLine, ...]

    @property
    def gates(self) -> tuple[Gate, ...]:
        return gates_of(self.grade)


@dataclass(frozen=True, slots=True)
class SetRecord:
    """``revisions`` has the newest first and is empty before signing; ``faults`` comes with it."""

    practice_set: PracticeSet
    clock: Clock
    pauses: tuple[Pause, ...]
    revisions: tuple[Revision, ...]
    faults: FaultMap | None

    @property
    def newest(self) -> Revision | None:
        return self.revisions[0] if self.revisions else None

    @property
    def grade(self) -> Grade | None:
        return self.revisions[0].grade if self.revisions else None

    @property
    def splits(self) -> tuple[NamedSplit, ...]:
        return tuple(
            NamedSplit(_split_name(split, number), split.worked_s, split.total_s)
            for number, split in enumerate(self.clock.splits, 1)
        )

    @property
    def earlier(self) -> tuple[Revision, ...]:
        return self.revisions[1:]


def set_for(member: Membership, uid: UUID) -> PracticeSet:
    """A set this member may see: any of the academy for staff, only her own for a student.

    Raises MarkingBlind while she has yet to mark it without seeing its first result.
    """
    found = practice_set(member.academy, uid)
    if not member.is_staff_here and found.student_id != member.pk:
        raise NotHere("practice set")
    refuse_blind(member, found)
    return found


def record_of(practice_set: PracticeSet, *, now: datetime) -> SetRecord:
    """Seven queries for a graded set, two before."""
    events = timing_events(practice_set.events.filter(kind__in=TIMING))
    grades = tuple(revisions(practice_set))
    return SetRecord(
        practice_set=practice_set,
        clock=read_clock(events, now=now),
        pauses=pauses(events),
        revisions=tuple(Revision(grade, mark_lines(grade)) for grade in grades),
        faults=fault_map(grades[0].inspection, practice_set.brief) if grades else None,
    )


def facts_of_graded(practice_set: PracticeSet) -> Facts:
    """All that a graded set tells: rows that change by their columns, the others by key; five queries.

    Signed marks, the clock's events and the positions of a closed inspection are final.
    """
    grades = Grade.objects.filter(practice_set=practice_set).order_by("revision")
    signed = grades.values_list(
        "pk", "signed_at", "signed_by__user__name", "inspection__inspector__user__name"
    )
    return (facts_of(practice_set), tuple(signed), practice_set.events.count(), catalogue_words())


def mark_lines(grade: Grade) -> tuple[MarkLine, ...]:
    """Expects marks, criteria and descriptors to be prefetched, as ``revisions`` does."""
    return tuple(_mark_line(mark) for mark in grade.marks.all())


def _mark_line(mark: Mark) -> MarkLine:
    criterion = mark.criterion
    descriptors = {row.level: row.text for row in criterion.descriptors.all()}
    return MarkLine(
        name=criterion.name,
        is_gate=criterion.is_gate,
        level=mark.level,
        how=mark.words if mark.proposed is not None else _judged(mark),
        remark=_remark(mark),
        descriptor=descriptors.get(mark.level, ""),
    )


def _judged(mark: Mark) -> str:
    if mark.faults is None:
        return "Judged by a person."
    return f"Judged by a person; {mark.faults} of {mark.inspected} fans had a fault that limits this level."


def _remark(mark: Mark) -> str:
    if not mark.override_reason:
        return ""
    if mark.proposed is None or mark.proposed == mark.level:
        return f"Reason: {mark.override_reason}"
    return f"Proposed {mark.proposed}, given {mark.level}: {mark.override_reason}"


def pauses(events: Sequence[Event]) -> tuple[Pause, ...]:
    """Each pause with its length, up to the resume, finish or abandoning that ended it."""
    found = []
    for number, event in enumerate(events):
        if event.kind == EventKind.PAUSE:
            after = events[number + 1] if number + 1 < len(events) else None
            lasted = (after.at - event.at).total_seconds() if after else None
            found.append(Pause(event.at, lasted, event.reason))
    return tuple(found)


def _split_name(split: Split, number: int) -> str:
    words = (EYE_WORDS.get(split.eye), LAYER_WORDS.get(split.layer))
    return ", ".join(word for word in words if word).capitalize() or f"Split {number}"


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
