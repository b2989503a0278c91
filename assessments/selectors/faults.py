from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assessments.models import Inspection, Position
from assessments.scoring.drills import FaultRate, FaultSpec, fault_rates
from assessments.scoring.evidence import PositionFinding
from courses.models import BriefVersion, Fault
from courses.words import EYE_WORDS, LAYER_WORDS, ZONE_WORDS

AT_FAULT = (Position.Finding.FAULTY, Position.Finding.BARE)


@dataclass(frozen=True, slots=True)
class DrawnPosition:
    """One inspected position as the eye drawing wants it; ``fraction`` of its zone, from the inner corner."""

    index: int
    eye: str
    zone: str
    layer: str
    fraction: float
    label: str
    kind: str


@dataclass(frozen=True, slots=True)
class FaultLine:
    """One position at fault, in words; ``label`` is its number on the drawing."""

    label: str
    place: str
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FaultMap:
    """One inspection on both eyes; ``rates`` has gate skills first, then the worst fault first."""

    zones: tuple[str, ...]
    layers: tuple[str, ...]
    positions: tuple[DrawnPosition, ...]
    lines: tuple[FaultLine, ...]
    rates: tuple[FaultRate, ...]


def fault_map(inspection: Inspection, brief: BriefVersion) -> FaultMap:
    """What was found where; three queries."""
    positions = list(inspection.positions.prefetch_related("faults"))
    fans_a_cell = int(inspection.plan.get("fans_per_cell") or max(position.fan for position in positions))
    return FaultMap(
        zones=tuple(ZONE_WORDS[zone] for zone in brief.zones),
        layers=tuple(LAYER_WORDS[layer] for layer in brief.layers),
        positions=tuple(_drawn(position, fans_a_cell) for position in positions),
        lines=tuple(_line(position) for position in positions if position.finding in AT_FAULT),
        rates=fault_rates([finding_of(position) for position in positions], fault_specs()),
    )


def fault_specs() -> list[FaultSpec]:
    """Every fault of the catalogue as the scoring reads it; one query."""
    faults = Fault.objects.select_related("skill", "drill")
    return [
        FaultSpec(fault.code, fault.name, fault.skill.code, fault.skill.is_gate, fault.drill.code)
        for fault in faults
    ]


def fault_meanings(codes: Iterable[str]) -> dict[str, str]:
    """Fault code to what the fault is; one query."""
    return dict(Fault.objects.filter(code__in=list(codes)).values_list("code", "meaning"))


def finding_of(position: Position) -> PositionFinding:
    """Costs a query unless ``faults`` are prefetched."""
    bare = position.finding == Position.Finding.BARE
    return PositionFinding(
        eye=position.eye,
        zone=position.zone,
        layer=position.layer,
        faults=frozenset() if bare else frozenset(fault.code for fault in position.faults.all()),
        bare=bare,
        gap_mm=None if position.gap_mm is None else float(position.gap_mm),
        direction_deg=position.direction_deg,
    )


def place_words(position: Position) -> str:
    return (
        f"{EYE_WORDS[position.eye].capitalize()}, {ZONE_WORDS[position.zone]}, "
        f"{LAYER_WORDS[position.layer]}, fan {position.fan}"
    )


def lines_by_zone(positions: Sequence[FaultLine]) -> dict[str, list[FaultLine]]:
    """Fault lines under "Left eye, inner" and so on, in the order of inspection."""
    grouped: dict[str, list[FaultLine]] = {}
    for line in positions:
        grouped.setdefault(", ".join(line.place.split(", ")[:2]), []).append(line)
    return grouped


def _drawn(position: Position, fans_a_cell: int) -> DrawnPosition:
    return DrawnPosition(
        index=position.index,
        eye=position.eye,
        zone=ZONE_WORDS[position.zone],
        layer=LAYER_WORDS[position.layer],
        fraction=min((position.fan - 0.5) / fans_a_cell, 1.0),
        label=str(position.index + 1),
        kind=str(position.finding),
    )


def _line(position: Position) -> FaultLine:
    if position.finding == Position.Finding.BARE:
        faults: tuple[str, ...] = ("lash left bare",)
    else:
        faults = tuple(fault.name for fault in position.faults.all())
    return FaultLine(str(position.index + 1), place_words(position), faults)
