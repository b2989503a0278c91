from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db.models import Max, OuterRef, Q, QuerySet, Subquery

from academy.errors import NotHere
from academy.models import Academy, Membership
from academy.selectors.people import students
from assessments.models import PracticeSet, SetEvent
from assessments.models.sets import HEAD_IN_USE, UNDER_WAY
from assessments.scoring.timing import Clock, Event, EventKind, read_clock
from courses.models import Head, SetBrief

AWAITS_SECOND_LOOK = Q(second_mark__state="open", second_mark__inspection__closed_at=None)
_SAID_IN_A_LINE = (
    *("uid", "number", "state", "target_s", "created_at", "finished_at"),
    *("student__user__name", "student__user__email", "brief__brief__name", "head__name"),
)
TIMING = [kind.value for kind in EventKind]


def practice_sets(academy: Academy) -> QuerySet[PracticeSet]:
    """Every set of this academy with what a line about it needs; one query."""
    return PracticeSet.objects.filter(academy=academy).select_related(
        "student__user", "brief__brief", "head", "rubric__rubric"
    )


def set_lines(academy: Academy) -> QuerySet[PracticeSet]:
    """Every set of this academy with no more than what a list says about it; one query, no map is read."""
    rows = PracticeSet.objects.filter(academy=academy).select_related("student__user", "brief__brief", "head")
    return rows.only(*_SAID_IN_A_LINE)


def practice_set(academy: Academy, uid: UUID) -> PracticeSet:
    """One set of this academy; a foreign or unknown one is NotHere."""
    return _found(academy, practice_sets(academy), uid)


def locked_set(academy: Academy, uid: UUID) -> PracticeSet:
    """The same, held against other writers until the transaction ends."""
    return _found(academy, practice_sets(academy).select_for_update(of=("self",)), uid)


def _found(academy: Academy, rows: QuerySet[PracticeSet], uid: UUID) -> PracticeSet:
    found = rows.order_by().filter(uid=uid).first()
    if found is None:
        raise NotHere("practice set")
    found.academy = found.student.academy = academy  # known, so nobody need ask for it again
    return found


def open_set_of(student: Membership) -> PracticeSet | None:
    return PracticeSet.objects.filter(student=student, state__in=UNDER_WAY).first()


def set_on_head(head: Head) -> PracticeSet | None:
    """The set that occupies this head; one query, two when it looks free."""
    found = _occupants(head.academy).filter(head=head)
    return found.filter(state__in=HEAD_IN_USE).first() or found.filter(AWAITS_SECOND_LOOK).first()


def heads_in_use(academy: Academy) -> dict[int, PracticeSet]:
    """Head id to the set that occupies it, at the bench or until a second look; two queries."""
    found = _occupants(academy)
    return {
        practice_set.head_id: practice_set
        for rows in (found.filter(AWAITS_SECOND_LOOK), found.filter(state__in=HEAD_IN_USE))
        for practice_set in rows
    }


def _occupants(academy: Academy) -> QuerySet[PracticeSet]:
    """Sets with no more than what is said of one that occupies a head."""
    names = ("uid", "number", "state", "head__name", "student__user__name", "student__user__email")
    return PracticeSet.objects.filter(academy=academy).select_related("head", "student__user").only(*names)


def reused_since(practice_set: PracticeSet) -> bool:
    """Whether its head has carried another set since; one query."""
    later = PracticeSet.objects.filter(head=practice_set.head_id, created_at__gt=practice_set.created_at)
    return later.exists()


def newest_number(student: Membership) -> int:
    """The number of the student's newest set, 0 before the first."""
    return PracticeSet.objects.filter(student=student).aggregate(newest=Max("number"))["newest"] or 0


def sets_on_brief(student: Membership, brief: SetBrief) -> int:
    """How many sets this student has begun on any version of the brief."""
    return PracticeSet.objects.filter(student=student, brief__brief=brief).exclude(state="abandoned").count()


def last_setup(academy: Academy, *, since: datetime) -> PracticeSet | None:
    """The newest set opened since the day began: its adhesive and room carry over to the next."""
    return PracticeSet.objects.filter(academy=academy, created_at__gte=since).order_by("-created_at").first()


def students_for_bench(academy: Academy) -> QuerySet[Membership]:
    """Students with ``last_brief_id``, the brief of their newest set; one query."""
    newest = PracticeSet.objects.filter(student=OuterRef("pk")).order_by("-number")
    return students(academy).annotate(last_brief_id=Subquery(newest.values("brief__brief_id")[:1]))


def clock_of(practice_set: PracticeSet, *, now: datetime) -> Clock:
    """The clock read from the recorded events; one query."""
    return read_clock(timing_events(practice_set.events.filter(kind__in=TIMING)), now=now)


def timing_events(rows: Iterable[SetEvent]) -> list[Event]:
    return [
        Event(
            EventKind(row.kind),
            row.at,
            eye=row.data.get("eye", ""),
            layer=row.data.get("layer", ""),
            reason=row.data.get("reason", ""),
        )
        for row in rows
    ]
