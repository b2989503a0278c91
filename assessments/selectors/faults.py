from collections.abc import Iterable
from dataclasses import dataclass

from assessments.models import Inspection, Position
from assessments.scoring.drills import FaultRate, fault_rates
from assessments.selectors.marking import fault_spec, findings
from courses.models import BriefVersion, Fault
from courses.selectors.catalogue import faults
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
    eye: str
    zone: str
    layer: str
    fan: int
    faults: tuple[str, ...]

    @property
    def place(self) -> str:
        return f"{self.eye.capitalize()}, {self.zone}, {self.layer}, fan {self.fan}"


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
    fans_a_cell = int(inspection.plan["fans_per_cell"])
    return FaultMap(
        zones=tuple(ZONE_WORDS[zone] for zone in brief.zones),
        layers=tuple(LAYER_WORDS[layer] for layer in brief.layers),
        positions=tuple(_drawn(position, fans_a_cell) for position in positions),
        lines=tuple(_line(position) for position in positions if position.finding in AT_FAULT),
        rates=fault_rates(findings(positions), [fault_spec(fault) for fault in faults()]),
    )


def fault_meanings(codes: Iterable[str]) -> dict[str, str]:
    """Fault code to what the fault is; one query."""
    return dict(Fault.objects.filter(code__in=list(codes)).values_list("code", "meaning"))


def _drawn(position: Position, fans_a_cell: int) -> DrawnPosition:
    return DrawnPosition(
        index=position.index,
        eye=EYE_WORDS[position.eye],
        zone=ZONE_WORDS[position.zone],
        layer=LAYER_WORDS[position.layer],
        fraction=min((position.fan - 0.5) / fans_a_cell, 1.0),
        label=str(position.index + 1),
        kind=str(position.finding),
    )


def _line(position: Position) -> FaultLine:
    if position.finding == Position.Finding.BARE:
        seen: tuple[str, ...] = ("lash left bare",)
    else:
        seen = tuple(fault.name for fault in position.faults.all())
    return FaultLine(
        label=str(position.index + 1),
        eye=EYE_WORDS[position.eye],
        zone=ZONE_WORDS[position.zone],
        layer=LAYER_WORDS[position.layer],
        fan=position.fan,
        faults=seen,
    )
