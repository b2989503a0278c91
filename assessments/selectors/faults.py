from collections.abc import Iterable
from dataclasses import dataclass

from assessments.models import Inspection, Position
from assessments.scoring.drills import FaultRate, fault_rates
from assessments.selectors.marking import fault_spec, findings
from courses.mapping.lash_map import LashMap, zone_words
from courses.models import BriefVersion, Fault
from courses.selectors.catalogue import faults
from courses.words import EYE_WORDS, LAYER_WORDS

AT_FAULT = (Position.Finding.FAULTY, Position.Finding.BARE)


@dataclass(frozen=True, slots=True)
class DrawnPosition:
    """One inspected position as the drawing wants it: codes of its place, and in words what was found."""

    index: int
    eye: str
    zone: str
    layer: str
    fan: int
    fans_in_cell: int
    label: str
    kind: str
    told: str


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

    lash_map: LashMap
    positions: tuple[DrawnPosition, ...]
    lines: tuple[FaultLine, ...]
    rates: tuple[FaultRate, ...]


def fault_map(inspection: Inspection, brief: BriefVersion) -> FaultMap:
    """What was found where; three queries."""
    positions = list(inspection.positions.prefetch_related("faults"))
    fans_a_cell = int(inspection.plan["fans_per_cell"])
    return FaultMap(
        lash_map=brief.lash_map,
        positions=tuple(_drawn(position, fans_a_cell) for position in positions),
        lines=tuple(_line(position) for position in positions if position.finding in AT_FAULT),
        rates=fault_rates(findings(positions, brief.lash_map), [fault_spec(fault) for fault in faults()]),
    )


def fault_meanings(codes: Iterable[str]) -> dict[str, str]:
    """Fault code to what the fault is; one query."""
    return dict(Fault.objects.filter(code__in=list(codes)).values_list("code", "meaning"))


def _drawn(position: Position, fans_a_cell: int) -> DrawnPosition:
    return DrawnPosition(
        index=position.index,
        eye=position.eye,
        zone=position.zone,
        layer=position.layer,
        fan=position.fan,
        fans_in_cell=fans_a_cell,
        label=str(position.index + 1),
        kind=str(position.finding),
        told=", ".join(_seen(position)) or str(position.get_finding_display()),
    )


def _line(position: Position) -> FaultLine:
    return FaultLine(
        label=str(position.index + 1),
        eye=EYE_WORDS[position.eye],
        zone=zone_words(position.zone),
        layer=LAYER_WORDS[position.layer],
        fan=position.fan,
        faults=_seen(position),
    )


def _seen(position: Position) -> tuple[str, ...]:
    if position.finding == Position.Finding.BARE:
        return ("lash left bare",)
    return tuple(fault.name for fault in position.faults.all())
