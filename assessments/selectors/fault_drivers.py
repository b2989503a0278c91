"""Which fault holds a skill down, and the drill that answers it."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from assessments.models import Mark, Position
from assessments.scoring.drills import FaultRate
from courses.models import Drill, Fault

LATEST_SETS = 3


@dataclass(frozen=True, slots=True)
class FaultDriver:
    """The commonest fault of one skill over the latest sets, and its drill."""

    rate: FaultRate
    drill: Drill


def latest_inspections(marks: Sequence[Mark]) -> tuple[int, ...]:
    """Of the latest sets, for marks given oldest set first."""
    return tuple(dict.fromkeys(mark.grade.inspection_id for mark in marks))[-LATEST_SETS:]


def faults_seen(inspections: Collection[int]) -> tuple[Fault, ...]:
    """Every fault of the catalogue with ``ticked``: fans that had it, and ``places`` and ``bare`` ones looked
    at; one query, none without inspections."""
    if not inspections:
        return ()
    through = Position.faults.through._default_manager
    ticked = through.filter(fault=OuterRef("pk"), position__inspection__in=inspections).values("fault")
    places = Position.objects.filter(inspection__in=inspections).exclude(finding=Position.Finding.UNSEEN)
    bare = places.filter(finding=Position.Finding.BARE)
    found = Fault.objects.select_related("skill", "drill").annotate(
        ticked=_counted(ticked), places=_counted(_together(places)), bare=_counted(_together(bare))
    )
    return tuple(found)


def fault_drivers(faults: Iterable[Fault]) -> dict[str, FaultDriver]:
    """Skill code to the fault found most often, for faults as ``faults_seen`` gives them."""
    found: dict[str, FaultDriver] = {}
    for fault in faults:
        rate = _rate(fault)
        known = found.get(rate.skill)
        if rate.faults and (known is None or rate.rate > known.rate.rate):
            found[rate.skill] = FaultDriver(rate, fault.drill)
    return found


def _together(places: QuerySet[Position]) -> QuerySet[Position, Any]:
    return places.order_by().annotate(group=Value(1)).values("group")


def _counted(rows: QuerySet[Any, Any]) -> Coalesce:
    return Coalesce(Subquery(rows.order_by().annotate(rows=Count("pk")).values("rows")), 0)


def _rate(fault: Any) -> FaultRate:
    seen = fault.bare if fault.is_bare_lash else fault.ticked
    looked = fault.places if fault.is_bare_lash else fault.places - fault.bare
    return FaultRate(
        code=fault.code,
        name=fault.name,
        skill=fault.skill.code,
        drill=fault.drill.code,
        is_gate=fault.skill.is_gate,
        faults=seen,
        inspected=looked,
        rate=seen / looked if looked else 0.0,
    )
