from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from academy.models import Academy, Membership
from assessments.models import Criterion, Grade, Mark, PracticeSet
from assessments.scoring.drills import FaultRate
from assessments.selectors.faults import FaultMap, fault_meanings
from courses.models import Drill

_SAID_IN_A_LINE = (
    *("revision", "score", "gates_passed", "signed_at", "drill_count", "drill_due_on"),
    *("practice_set__uid", "practice_set__number", "practice_set__student__user__name"),
    *("drill__name", "drill__counted", "signed_by__user__name"),
)


@dataclass(frozen=True, slots=True)
class SeenFault:
    """A fault the drill answers: what it is and how often it was seen."""

    rate: FaultRate
    meaning: str


@dataclass(frozen=True, slots=True)
class Gate:
    """One gate of signed marks; ``detail``: the level given and the one needed."""

    name: str
    passed: bool
    detail: str


@dataclass(frozen=True, slots=True)
class NextPractice:
    """The one drill to practise, from the newest graded set; ``days_left`` is negative once overdue."""

    grade: Grade
    drill: Drill
    count: int
    due_on: date | None
    days_left: int | None
    faults: tuple[SeenFault, ...]

    @property
    def is_overdue(self) -> bool:
        return self.days_left is not None and self.days_left < 0

    @property
    def days_late(self) -> int:
        return max(0, -(self.days_left or 0))


def newest_grades(academy: Academy) -> QuerySet[Grade]:
    """The newest revision of every graded set of this academy; one query."""
    later = Grade.objects.filter(practice_set=OuterRef("practice_set"), revision__gt=OuterRef("revision"))
    return Grade.objects.filter(~Exists(later), practice_set__academy=academy).select_related(
        "practice_set__student__user", "practice_set__brief__brief", "inspection", "drill", "signed_by__user"
    )


def grade_lines(academy: Academy) -> QuerySet[Grade]:
    """The same with no more than what a list says about it; one query, no map and no verdict is read."""
    rows = newest_grades(academy).select_related(None)
    return rows.select_related("practice_set__student__user", "drill", "signed_by__user").only(
        *_SAID_IN_A_LINE
    )


def newest_grade_of(student: Membership) -> Grade | None:
    """The marks that count for the student's latest graded set; one query."""
    grades = newest_grades(student.academy).filter(practice_set__student=student)
    return grades.order_by("-practice_set__number").first()


def grade_of(practice_set: PracticeSet) -> Grade | None:
    """The marks that count for one set; one query."""
    return newest_grades(practice_set.academy).filter(practice_set=practice_set).first()


def gates_of(grade: Grade) -> tuple[Gate, ...]:
    """Gates as they stood at signing."""
    return tuple(
        Gate(gate["name"], gate["passed"], f"{_level_words(gate['level'])}, needs {gate['needed']}")
        for gate in grade.verdict.get("gates", [])
    )


def _level_words(level: int | None) -> str:
    return "no level" if level is None else f"level {level}"


def marks_that_count(student: Membership) -> QuerySet[Mark]:
    """Marks of the newest revision of each of the student's graded sets, oldest set first; three queries."""
    return counting_marks().filter(grade__practice_set__student=student)


def counting_marks() -> QuerySet[Mark]:
    """The same for everybody, one student after the other; narrow it before asking. Three queries.

    The marks of a set share one grade, and all marks their criteria: a long course has many marks. What each
    set was signed with stays in the database, because this has few readers.
    """
    later = Grade.objects.filter(
        practice_set=OuterRef("grade__practice_set"), revision__gt=OuterRef("grade__revision")
    )
    return (
        Mark.objects.filter(~Exists(later))
        .prefetch_related(
            Prefetch("criterion", Criterion.objects.select_related("skill")),
            Prefetch("grade", Grade.objects.select_related("practice_set").defer("entry", "verdict", "note")),
        )
        .defer("words")
        .order_by("grade__practice_set__student", "grade__practice_set__number", "criterion__order")
    )


def revisions(practice_set: PracticeSet) -> list[Grade]:
    """Every signed revision, newest first, with its marks in the rubric's order; three queries."""
    marks = (
        Mark.objects.select_related("criterion")
        .prefetch_related("criterion__descriptors")
        .order_by("criterion__order")
    )
    return list(
        Grade.objects.filter(practice_set=practice_set)
        .select_related("inspection__inspector__user", "drill", "signed_by__user")
        .prefetch_related(Prefetch("marks", marks))
    )


def local_day(academy: Academy, now: datetime) -> date:
    """Today's date where the academy is."""
    return now.astimezone(ZoneInfo(academy.time_zone)).date()


def days_between(academy: Academy, earlier: datetime, later: datetime) -> int:
    """Midnights between two instants where the academy is."""
    return (local_day(academy, later) - local_day(academy, earlier)).days


def next_practice(grade: Grade, found: FaultMap, *, today: date) -> NextPractice | None:
    """The drill set with ``grade``, or None when none was set; one query."""
    drill = grade.drill
    if drill is None:
        return None
    return NextPractice(
        grade=grade,
        drill=drill,
        count=grade.drill_count or drill.count_target,
        due_on=grade.drill_due_on,
        days_left=None if grade.drill_due_on is None else (grade.drill_due_on - today).days,
        faults=_seen(found.rates, drill),
    )


def _seen(rates: Sequence[FaultRate], drill: Drill) -> tuple[SeenFault, ...]:
    answered = [rate for rate in rates if rate.drill == drill.code]
    meanings = fault_meanings(rate.code for rate in answered)
    return tuple(SeenFault(rate, meanings.get(rate.code, "")) for rate in answered)
