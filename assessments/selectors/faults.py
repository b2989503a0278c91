from collections.abc import Iterable
from dataclasses import dataclass

from assessments.models import Inspection, Position
from assessments.scoring.drills import FaultRate, fault_rates
from assessments.scoring.evidence import OFF_MAP_MARK
from assessments.selectors.map_result import MapResult, result_of
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
    result: MapResult
    rates: tuple[FaultRate, ...]


def fault_map(inspection: Inspection, brief: BriefVersion, known: Iterable[Fault] | None = None) -> FaultMap:
    """What was found where; three queries, two when the faults of the catalogue are known."""
    positions, lash_map = list(inspection.positions.prefetch_related("faults")), brief.lash_map
    fans_a_cell = int(inspection.plan["fans_per_cell"])
    return FaultMap(
        lash_map=lash_map,
        positions=tuple(_drawn(position, fans_a_cell, lash_map) for position in positions),
        lines=tuple(_line(position, lash_map) for position in positions if position.finding in AT_FAULT),
        result=result_of(positions, inspection, lash_map),
        rates=fault_rates(findings(positions, lash_map), [fault_spec(fault) for fault in known or faults()]),
    )


def fault_meanings(codes: Iterable[str]) -> dict[str, str]:
    """Fault code to what the fault is; one query."""
    return dict(Fault.objects.filter(code__in=list(codes)).values_list("code", "meaning"))


def _drawn(position: Position, fans_a_cell: int, lash_map: LashMap) -> DrawnPosition:
    return DrawnPosition(
        index=position.index,
        eye=position.eye,
        zone=position.zone,
        layer=position.layer,
        fan=position.fan,
        fans_in_cell=fans_a_cell,
        label=str(position.index + 1),
        kind=_kind(position, lash_map),
        told=", ".join(_seen(position, lash_map)) or str(position.get_finding_display()),
    )


def _kind(position: Position, lash_map: LashMap) -> str:
    """A fan whose only fault is its measured length is drawn as the way it errs."""
    faults = [fault.code for fault in position.faults.all()]
    if faults != [OFF_MAP_MARK] or position.found_length_mm is None:
        return str(position.finding)
    return "long" if position.found_length_mm > position.planned_mm(lash_map) else "short"


def _line(position: Position, lash_map: LashMap) -> FaultLine:
    return FaultLine(
        label=str(position.index + 1),
        eye=EYE_WORDS[position.eye],
        zone=zone_words(position.zone),
        layer=LAYER_WORDS[position.layer],
        fan=position.fan,
        faults=_seen(position, lash_map),
    )


def _seen(position: Position, lash_map: LashMap) -> tuple[str, ...]:
    """Faults in words; a wrong length with what was found and what was planned."""
    if position.finding == Position.Finding.BARE:
        return ("lash left bare",)
    return tuple(_fault_words(fault, position, lash_map) for fault in position.faults.all())


def _fault_words(fault: Fault, position: Position, lash_map: LashMap) -> str:
    if fault.code != OFF_MAP_MARK or position.found_length_mm is None:
        return fault.name
    planned = position.planned_mm(lash_map)
    return f"{fault.name}: {position.found_length_mm.normalize():f} mm found, {planned} mm planned"
