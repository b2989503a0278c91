"""One standard set: both educators mark it from the same findings, and write down what they agreed."""

from datetime import datetime, timedelta
from random import Random

from assessments.management.demo.academy import School
from assessments.models import SecondMark, StandardSet
from assessments.selectors.grades import grade_of
from assessments.services.standard_sets import (
    choose_standard_set,
    mark_standard_set,
    note_on_standard_set,
)


def tell_standard_set(
    school: School, words: dict[str, str], now: datetime, rng: Random
) -> StandardSet | None:
    """A set that was marked twice; each educator gives the signed levels as she reads them."""
    second = SecondMark.objects.filter(practice_set__academy=school.owner.academy, state="done").last()
    grade = grade_of(second.practice_set) if second else None
    if second is None or grade is None:
        return None
    at = now - timedelta(days=3)
    practice_set = second.practice_set
    standard = choose_standard_set(actor=school.owner, practice_set=practice_set, why=words["why"], now=at)
    signed = dict(
        grade.marks.exclude(criterion__kind__in=["timed", "lines"]).values_list("criterion__code", "level")
    )
    for educator in school.educators:
        lean = school.strictness[educator.pk]
        levels = {code: _read(level, lean, rng) for code, level in signed.items()}
        at += timedelta(hours=2)
        mark_standard_set(actor=educator, standard=standard, levels=levels, now=at)
    note_on_standard_set(actor=school.owner, standard=standard, text=words["agreed"], now=at)
    return standard


def _read(level: int, strictness: float, rng: Random) -> int:
    return min(max(round(level - strictness + rng.gauss(0, 0.35)), 0), 4)
