"""What was found at each place of the map beside what it planned, for the drawing of a graded set."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from assessments.models import Inspection, Position
from assessments.scoring.evidence import paired_lengths
from assessments.selectors.marking import findings
from courses.mapping.judging import is_off_map, symmetry
from courses.mapping.lash_map import Cell, LashMap, cell, layer_words, place_words, zone_words
from courses.models import BriefVersion
from courses.selectors.brief_sheet import length_words

EYES = ("left", "right")


@dataclass(frozen=True, slots=True)
class FanResult:
    """One inspected fan; ``label`` is its number on the drawing, ``found_mm`` None where not measured."""

    label: str
    fan: int
    planned_mm: int
    found_mm: Decimal | None
    finding: str
    faults: tuple[str, ...]

    @property
    def off_mm(self) -> Decimal | None:
        """Above 0 when longer than planned."""
        return None if self.found_mm is None else self.found_mm - self.planned_mm

    @property
    def is_off_map(self) -> bool:
        return self.found_mm is not None and is_off_map(self.found_mm, self.planned_mm)

    @property
    def found_words(self) -> str:
        found = "" if self.found_mm is None else f"{self.found_mm.normalize():f} mm"
        return f"{found} for {self.planned_mm} mm" if self.is_off_map else found


@dataclass(frozen=True, slots=True)
class CellResult:
    """One zone of one layer of one eye, and what the map plans there."""

    eye: str
    zone: str
    layer: str
    place: str
    planned: Cell
    fans: tuple[FanResult, ...]

    @property
    def planned_words(self) -> str:
        return length_words(self.planned)

    @property
    def found_words(self) -> str:
        """Each measured length, and its plan where the fan is off it: "9 mm, 12 mm for 10 mm"."""
        return ", ".join(fan.found_words for fan in self.fans if fan.found_mm is not None)

    @property
    def inspected(self) -> int:
        """Positions looked at that carry a fan."""
        return sum(fan.finding in {"clean", "faulty"} for fan in self.fans)

    @property
    def at_fault(self) -> int:
        return sum(fan.finding == "faulty" for fan in self.fans)

    @property
    def bare(self) -> int:
        return sum(fan.finding == "bare" for fan in self.fans)

    @property
    def off_map(self) -> int:
        return sum(fan.is_off_map for fan in self.fans)

    @property
    def mean_off_mm(self) -> Fraction | None:
        """Mean of found minus planned over the fans measured; None where none was."""
        off = [Fraction(fan.off_mm) for fan in self.fans if fan.off_mm is not None]
        return sum(off, Fraction(0)) / len(off) if off else None


@dataclass(frozen=True, slots=True)
class MapResult:
    """``cells`` by eye, then layer from the top, then zone from the nose; ``mean_pair_mm`` over ``pairs``."""

    lash_map: LashMap
    fans_per_cell: int
    zones: tuple[str, ...]
    layers: tuple[str, ...]
    cells: tuple[CellResult, ...]
    pairs: int
    mean_pair_mm: Fraction | None

    def of_eye(self, eye: str) -> tuple[CellResult, ...]:
        return tuple(each for each in self.cells if each.eye == eye)

    @property
    def mean_pair_words(self) -> str:
        """To tenths of a millimetre; empty without a pair."""
        return "" if self.mean_pair_mm is None else f"{float(self.mean_pair_mm):.1f} mm"

    @property
    def measured(self) -> int:
        return sum(fan.found_mm is not None for each in self.cells for fan in each.fans)

    @property
    def off_map(self) -> int:
        return sum(each.off_map for each in self.cells)


def map_result(inspection: Inspection, brief: BriefVersion) -> MapResult:
    """Two queries, whatever was found."""
    return result_of(list(inspection.positions.prefetch_related("faults")), inspection, brief.lash_map)


def result_of(positions: Sequence[Position], inspection: Inspection, lash_map: LashMap) -> MapResult:
    """From positions already read with their faults; no query."""
    paired = symmetry(paired_lengths(findings(positions, lash_map)))
    return MapResult(
        lash_map=lash_map,
        fans_per_cell=int(inspection.plan["fans_per_cell"]),
        zones=tuple(zone_words(zone) for zone in lash_map.zones),
        layers=tuple(layer_words(layer) for layer in lash_map.layers),
        cells=tuple(
            _cell(eye, zone, layer, positions, lash_map)
            for eye in EYES
            for layer in lash_map.layers
            for zone in lash_map.zones
        ),
        pairs=paired.pairs,
        mean_pair_mm=paired.mean_off_mm,
    )


def _cell(eye: str, zone: str, layer: str, positions: Iterable[Position], lash_map: LashMap) -> CellResult:
    here = [each for each in positions if (each.eye, each.zone, each.layer) == (eye, zone, layer)]
    return CellResult(
        eye=eye,
        zone=zone,
        layer=layer,
        place=place_words(eye, zone, layer),
        planned=cell(lash_map, eye, zone, layer),
        fans=tuple(_fan(position, lash_map) for position in here),
    )


def _fan(position: Position, lash_map: LashMap) -> FanResult:
    return FanResult(
        label=str(position.index + 1),
        fan=position.fan,
        planned_mm=position.planned_mm(lash_map),
        found_mm=position.found_length_mm,
        finding=str(position.finding),
        faults=tuple(fault.name for fault in position.faults.all()),
    )
