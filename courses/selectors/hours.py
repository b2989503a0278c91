from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import ceil

from django.db.models import QuerySet, Sum

from academy.errors import NotHere
from academy.models import Academy
from courses.models import Enrolment, HoursEntry, HoursKind

# Where local rules limit hours online or on trips, the kinds stay apart in every total.
THEORY_KINDS = (HoursKind.THEORY, HoursKind.ONLINE, HoursKind.FIELD_TRIP)


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """One entry that counts, with the minutes of all entries up to it; ``replaced``: what it corrects."""

    entry: HoursEntry
    running_minutes: int
    replaced: tuple[HoursEntry, ...]


def counting_hours(enrolment: Enrolment) -> QuerySet[HoursEntry]:
    """Entries not replaced by a correction."""
    return enrolment.hours.filter(corrected_by=None)


def hours_total(enrolment: Enrolment) -> dict[str, int]:
    """Minutes of every kind, none left out; one query."""
    found = counting_hours(enrolment).order_by().values_list("kind").annotate(Sum("minutes"))
    return {**dict.fromkeys(HoursKind.values, 0), **dict(found)}


def theory_minutes(total: Mapping[str, int]) -> int:
    return sum(total[kind] for kind in THEORY_KINDS)


def minutes_of(hours: Decimal | None) -> int:
    """Whole minutes of decimal hours, rounded up; none asked for is 0."""
    return ceil((hours or 0) * 60)


def minutes_on(enrolment: Enrolment, day: date) -> int:
    """All minutes entered for one day; one query."""
    found: int | None = counting_hours(enrolment).filter(on=day).aggregate(all=Sum("minutes"))["all"]
    return found or 0


def ledger(enrolment: Enrolment) -> list[LedgerLine]:
    """Newest day first, with the running total and what each entry replaced; one query."""
    rows = list(enrolment.hours.select_related("unit", "entered_by__user").order_by("on", "id"))
    by_id = {row.pk: row for row in rows}
    replaced = {row.corrects_id for row in rows}
    lines, running = [], 0
    for row in rows:
        if row.pk not in replaced:
            running += row.minutes
            lines.append(LedgerLine(row, running, tuple(_chain(row, by_id))))
    return lines[::-1]


def entry(academy: Academy, entry_id: int) -> HoursEntry:
    """One entry that counts, with its enrolment's units; a replaced, foreign or unknown one is NotHere."""
    found = (
        HoursEntry.objects.filter(enrolment__student__academy=academy, corrected_by=None, pk=entry_id)
        .select_related("enrolment__version__programme", "enrolment__student__user", "unit")
        .select_related("enrolment__student__academy")
        .first()
    )
    if found is None:
        raise NotHere("hours entry")
    return found


def _chain(row: HoursEntry, by_id: Mapping[int, HoursEntry]) -> Sequence[HoursEntry]:
    """What the row corrects, the nearest first."""
    found = []
    while row.corrects_id:
        row = by_id[row.corrects_id]
        found.append(row)
    return found
