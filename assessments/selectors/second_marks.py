"""Blind second marks: who has which waiting, and both results side by side once the second is signed."""

from collections.abc import Collection
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count, Prefetch, Q, QuerySet

from academy.errors import Denied, NotHere
from academy.models import Academy, Membership, Role
from academy.read_once import read_once
from academy.selectors.people import members
from assessments.models import (
    Criterion,
    DiscussionNote,
    Grade,
    Mark,
    PracticeSet,
    SecondLevel,
    SecondMark,
    SecondMarkRate,
)
from assessments.scoring.entry import MarkEntry
from assessments.selectors.marking import Marking, marking
from assessments.selectors.sets import practice_set

CLOCK_KINDS = {"timed"}  # the same clock read twice says nothing about educators


class MarkingBlind(Denied):
    """What this person asks for shows the first result of a set that she is to mark without it."""

    def __init__(self, second_mark: SecondMark) -> None:
        super().__init__(
            "marking_blind",
            "You are marking this set blind. Its first result is shown once you have signed yours.",
        )
        self.second_uid = second_mark.uid


@dataclass(frozen=True, slots=True)
class ComparedLevel:
    """One criterion in both results; a level is None where that result has none."""

    name: str
    is_gate: bool
    first: int | None
    second: int | None
    first_words: str
    second_words: str

    @property
    def apart(self) -> int | None:
        if self.first is None or self.second is None:
            return None
        return abs(self.first - self.second)


@dataclass(frozen=True, slots=True)
class Comparison:
    """The first signed result beside the blind second one."""

    first: Grade
    second_mark: SecondMark
    levels: tuple[ComparedLevel, ...]

    @property
    def differences(self) -> int:
        return sum(bool(level.apart) for level in self.levels)

    @property
    def marked_twice(self) -> int:
        return sum(level.apart is not None for level in self.levels)


@read_once
def rate_of(academy: Academy) -> SecondMarkRate | None:
    return SecondMarkRate.objects.filter(academy=academy).first()


def second_mark_loads(academy: Academy, left_out: Collection[int]) -> dict[Membership, int]:
    """Who may give a second mark, with how many each has given or waiting; one query.

    Owners are asked only where no educator is left, for one query more.
    """
    counted = Count("second_marks", filter=~Q(second_marks__state=SecondMark.State.WAIVED))
    for role in (Role.EDUCATOR, Role.OWNER):
        found = members(academy, role).exclude(pk__in=left_out).annotate(load=counted)
        loads: dict[Membership, int] = {member: member.load for member in found}
        if loads:
            return loads
    return {}


def second_marks(academy: Academy) -> QuerySet[SecondMark]:
    """Every second mark of this academy with what a line about it needs; one query."""
    return SecondMark.objects.filter(practice_set__academy=academy).select_related(
        "assigned_to__user",
        "inspection",
        "practice_set__student__user",
        "practice_set__brief__brief",
        "practice_set__head",
        "practice_set__rubric__rubric",
        "practice_set__academy",
    )


def latest_second_marks(academy: Academy, count: int) -> list[SecondMark]:
    """Waiting ones first, then the newest; one query."""
    rows = second_marks(academy).annotate(is_open=Q(state=SecondMark.State.OPEN))
    return list(rows.order_by("-is_open", "-chosen_at", "-pk")[:count])


def second_mark(academy: Academy, uid: UUID) -> SecondMark:
    found = second_marks(academy).filter(uid=uid).first()
    if found is None:
        raise NotHere("second mark")
    return found


def own_second_mark(member: Membership, uid: UUID) -> SecondMark:
    """One that was given to this member, whatever has become of it; anybody else's is NotHere."""
    found = second_marks(member.academy).filter(uid=uid, assigned_to=member).first()
    if found is None:
        raise NotHere("second mark")
    return found


def locked_second_mark(second_mark: SecondMark) -> SecondMark:
    """The same row, held against other writers until the transaction ends."""
    rows = second_marks(second_mark.practice_set.academy).select_for_update(of=("self",))
    return rows.get(pk=second_mark.pk)


def waiting_for(member: Membership, student: Membership | None = None) -> QuerySet[SecondMark]:
    """Second marks that this member has yet to give, of all students or of one, oldest first; one query."""
    found = second_marks(member.academy).filter(assigned_to=member, state=SecondMark.State.OPEN)
    return found.filter(practice_set__student=student) if student else found


def refuse_blind(member: Membership, wanted: PracticeSet) -> None:
    """Raises MarkingBlind when this member has yet to mark the set blind; one query for a graded set."""
    if wanted.state != "graded" or not member.is_staff_here:
        return
    waiting = SecondMark.objects.filter(practice_set=wanted, assigned_to=member, state=SecondMark.State.OPEN)
    if found := waiting.first():
        raise MarkingBlind(found)


def set_to_read(member: Membership, uid: UUID) -> PracticeSet:
    """One set of this member's academy with all there is to read in it, unless she is marking it blind."""
    found = practice_set(member.academy, uid)
    refuse_blind(member, found)
    return found


def blind_sets(member: Membership) -> dict[int, int]:
    """Sets whose results this member may not see yet, with their students; one query."""
    return dict(
        SecondMark.objects.filter(assigned_to=member, state=SecondMark.State.OPEN).values_list(
            "practice_set_id", "practice_set__student_id"
        )
    )


def second_look(second_mark: SecondMark) -> SecondMark:
    """With its positions and their faults; three queries."""
    return (
        SecondMark.objects.filter(pk=second_mark.pk)
        .select_related("assigned_to__user", "inspection__inspector__user")
        .prefetch_related("inspection__positions__faults")
        .get()
    )


def second_marking(second_mark: SecondMark, entry: MarkEntry) -> Marking:
    """Proposals from what the second look found; nothing of the first result enters."""
    found = second_look(second_mark).inspection
    return marking(second_mark.practice_set, found, entry, without=CLOCK_KINDS)


def comparison(second_mark: SecondMark) -> Comparison:
    """Both results of a signed second mark; six queries. The first is as it was first signed."""
    first = (
        Grade.objects.filter(practice_set=second_mark.practice_set_id, revision=1)
        .select_related("signed_by__user", "inspection__inspector__user")
        .prefetch_related(Prefetch("marks", Mark.objects.select_related("criterion")))
        .get()
    )
    levels = SecondLevel.objects.filter(grade__second_mark=second_mark).select_related("criterion")
    firsts = {mark.criterion_id: mark for mark in first.marks.all()}
    seconds = {level.criterion_id: level for level in levels}
    rows = Criterion.objects.filter(pk__in={*firsts, *seconds})
    return Comparison(
        first=first,
        second_mark=second_mark,
        levels=tuple(
            _compared(row, firsts.get(row.pk), seconds.get(row.pk))
            for row in sorted(rows, key=lambda row: (not row.is_gate, row.order))
        ),
    )


def _compared(criterion: Criterion, first: Mark | None, second: SecondLevel | None) -> ComparedLevel:
    return ComparedLevel(
        name=criterion.name,
        is_gate=criterion.is_gate,
        first=first.level if first else None,
        second=second.level if second else None,
        first_words=_why(first) if first else "",
        second_words=_why(second) if second else "",
    )


def _why(level: Mark | SecondLevel) -> str:
    return level.override_reason or (level.words if level.proposed is not None else "")


def notes_on_second_mark(second_mark: SecondMark) -> QuerySet[DiscussionNote]:
    """What the educators wrote about it, oldest first; one query."""
    return DiscussionNote.objects.filter(second_mark=second_mark).select_related("author__user")
