"""Set times by brief, over all its versions."""

from dataclasses import dataclass

from academy.models import Academy, Membership
from assessments.models import PracticeSet

TIMED = ("finished", "inspected", "graded")


@dataclass(frozen=True, slots=True)
class BriefTimes:
    """One student's finished sets on one brief, oldest first; `numbers` count them from 1."""

    brief: int
    name: str
    sets: tuple[int, ...]
    seconds: tuple[float, ...]

    @property
    def numbers(self) -> range:
        return range(1, len(self.seconds) + 1)


def times_of(student: Membership) -> tuple[BriefTimes, ...]:
    """Most sets first; one query."""
    rows = PracticeSet.objects.filter(student=student, state__in=TIMED, worked_s__gt=0)
    found: dict[tuple[int, str], list[tuple[int, float]]] = {}
    asked = rows.order_by("number").values_list("brief__brief", "brief__brief__name", "pk", "worked_s")
    for brief, name, pk, seconds in asked:
        found.setdefault((brief, name), []).append((pk, seconds or 0.0))
    times = (
        BriefTimes(brief, name, tuple(pk for pk, _ in row), tuple(seconds for _, seconds in row))
        for (brief, name), row in found.items()
    )
    return tuple(sorted(times, key=lambda each: (-len(each.sets), each.name)))


def times_by_brief(academy: Academy) -> dict[int, list[tuple[range, list[float]]]]:
    """What every student of the academy took, as skill.time_curve learns a prior from it; one query."""
    rows = PracticeSet.objects.filter(academy=academy, state__in=TIMED, worked_s__gt=0)
    found: dict[int, dict[int, list[float]]] = {}
    asked = rows.order_by("student", "number").values_list("brief__brief", "student", "worked_s")
    for brief, student, seconds in asked.iterator(chunk_size=5000):
        found.setdefault(brief, {}).setdefault(student, []).append(seconds or 0.0)
    return {
        brief: [(range(1, len(row) + 1), row) for row in students.values()]
        for brief, students in found.items()
    }
