"""Standard sets: the one graded set that all mark, its evidence, and everybody's levels beside each other."""

from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count, Prefetch, QuerySet

from academy.errors import NotHere
from academy.models import Academy, Membership
from assessments.models import Criterion, DiscussionNote, Mark, StandardLevel, StandardMark, StandardSet
from assessments.selectors.faults import FaultMap, fault_map
from assessments.selectors.marking import criteria_of

NOT_SEEN = {"timed", "lines"}  # the clock reads itself; hygiene is seen only while the student works


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the first inspection recorded; ``measures``: what was measured and counted, each in words."""

    faults: FaultMap
    measures: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class GivenLevel:
    name: str
    level: int | None


@dataclass(frozen=True, slots=True)
class StandardRow:
    """One criterion: the signed level and each educator's, in the order of ``StandardResult.educators``."""

    name: str
    is_gate: bool
    signed: int | None
    given: tuple[GivenLevel, ...]

    @property
    def spread(self) -> int | None:
        """Levels between the highest and the lowest given; None with fewer than two."""
        known = [given.level for given in self.given if given.level is not None]
        return max(known) - min(known) if len(known) > 1 else None


@dataclass(frozen=True, slots=True)
class StandardResult:
    educators: tuple[str, ...]
    rows: tuple[StandardRow, ...]

    @property
    def words(self) -> str:
        apart = [row for row in self.rows if row.spread]
        if len(self.educators) < 2:
            return "One educator has marked it so far. Differences show once a second one has."
        if not apart:
            return "All gave the same levels."
        widest = max(apart, key=lambda row: row.spread or 0)
        return (
            f"The educators differ on {len(apart)} of {len(self.rows)} criteria, most on {widest.name} "
            f"({widest.spread} level{'s' if widest.spread != 1 else ''} apart). Talk about that one first."
        )


def standard_sets(academy: Academy) -> QuerySet[StandardSet]:
    """Newest first, with ``marked``, how many educators have marked each; one query."""
    return (
        StandardSet.objects.filter(academy=academy)
        .select_related(
            "grade__practice_set__student__user",
            "grade__practice_set__brief__brief",
            "grade__practice_set__rubric",
            "grade__practice_set__academy",
            "grade__inspection",
            "chosen_by__user",
        )
        .annotate(marked=Count("marks"))
    )


def standard_set(academy: Academy, uid: UUID) -> StandardSet:
    found = standard_sets(academy).filter(uid=uid).first()
    if found is None:
        raise NotHere("standard set")
    return found


def criteria_to_mark(standard: StandardSet) -> tuple[Criterion, ...]:
    """Criteria that can be judged from what was recorded, gates first; two queries."""
    return tuple(row for row in criteria_of(standard.grade.practice_set.rubric) if row.kind not in NOT_SEEN)


def evidence(standard: StandardSet) -> Evidence:
    """What the first inspection found; four queries."""
    inspection, entry = standard.grade.inspection, standard.grade.entry
    places = list(inspection.positions.all())
    gaps = sorted(place.gap_mm for place in places if place.gap_mm is not None)
    degrees = sorted(place.direction_deg for place in places if place.direction_deg is not None)
    told = (
        ("Fans placed, left and right", _counts(entry.get("left_count"), entry.get("right_count"))),
        ("Gaps to the lid, mm", ", ".join(f"{gap:f}" for gap in gaps)),
        ("Off the local line, degrees", ", ".join(str(each) for each in degrees)),
    )
    return Evidence(
        faults=fault_map(inspection, standard.grade.practice_set.brief),
        measures=tuple((what, words) for what, words in told if words),
    )


def _counts(left: int | None, right: int | None) -> str:
    return "" if left is None or right is None else f"{left} and {right}"


def has_marked(standard: StandardSet, member: Membership) -> bool:
    return StandardMark.objects.filter(standard_set=standard, educator=member).exists()


def result(standard: StandardSet) -> StandardResult:
    """Everybody's levels beside the signed ones; five queries."""
    levels = Prefetch("levels", StandardLevel.objects.select_related("criterion"))
    marks = list(standard.marks.select_related("educator__user").prefetch_related(levels))
    given = [(mark.educator.name, _levels(mark)) for mark in marks]
    signed = dict(Mark.objects.filter(grade=standard.grade_id).values_list("criterion_id", "level"))
    return StandardResult(
        educators=tuple(name for name, _ in given),
        rows=tuple(
            StandardRow(
                name=row.name,
                is_gate=row.is_gate,
                signed=signed.get(row.pk),
                given=tuple(GivenLevel(name, found.get(row.pk)) for name, found in given),
            )
            for row in criteria_to_mark(standard)
        ),
    )


def _levels(mark: StandardMark) -> dict[int, int]:
    return {level.criterion_id: level.level for level in mark.levels.all()}


def notes_on_standard_set(standard: StandardSet) -> QuerySet[DiscussionNote]:
    """What the educators wrote about it, oldest first; one query."""
    return DiscussionNote.objects.filter(standard_set=standard).select_related("author__user")
