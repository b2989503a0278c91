"""One version of a brief with everything reckoned from its map, for the page and for print."""

from collections.abc import Iterator
from dataclasses import dataclass

from courses.mapping.checks import Finding, check_map, silence
from courses.mapping.counts import TimeRow, length_counts, time_plan
from courses.mapping.lash_map import BOTH, Cell, CellKey, Fan, LashMap, layer_words, zone_words
from courses.mapping.pace import pace_words
from courses.mapping.supplies import Supplies, session_supplies
from courses.mapping.trade import millimetres
from courses.models import BriefVersion, Difficulty, MapGuide
from courses.selectors.brief_load import MASS_NOTE, LoadLine, load_lines
from courses.words import EYE_WORDS

SIDE_WORDS = {BOTH: "both eyes", **EYE_WORDS}
SHAPE_WORDS = {"open": "open fan", "closed": "closed fan", "spike": "spike"}


@dataclass(frozen=True, slots=True)
class CellLine:
    """One cell in words; ``fans`` on one eye, ``by_length`` as (mm, fans)."""

    key: CellKey
    zone: str
    layer: str
    lengths: str
    fan: str
    fans: int
    by_length: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class LayerTable:
    layer: str
    cells: tuple[CellLine, ...]

    @property
    def fans(self) -> int:
        return sum(cell.fans for cell in self.cells)


@dataclass(frozen=True, slots=True)
class EyeTable:
    """Both eyes at once when they mirror each other."""

    eye: str
    layers: tuple[LayerTable, ...]


@dataclass(frozen=True, slots=True)
class StageRow:
    from_set: int
    minutes: int
    pace: str


@dataclass(frozen=True, slots=True)
class TimeLine:
    """One stretch of work in words; ``done_by`` is the clock of the set, pauses left out."""

    eye: str
    layer: str
    zone: str
    fans: int
    lasts: str
    done_by: str


@dataclass(frozen=True, slots=True)
class BriefSheet:
    """``fans`` and ``supplies`` are for both eyes, supplies for all ``students`` together."""

    version: BriefVersion
    lash_map: LashMap
    zones: tuple[str, ...]
    layers: tuple[str, ...]
    tables: tuple[EyeTable, ...]
    findings: tuple[Finding, ...]
    loads: tuple[LoadLine, ...]
    stages: tuple[StageRow, ...]
    stage: StageRow
    check_minutes: int
    times: tuple[TimeLine, ...]
    supplies: Supplies
    mass_note: str = MASS_NOTE

    @property
    def fans(self) -> int:
        return 2 * self.version.fans_per_eye

    @property
    def open_findings(self) -> tuple[Finding, ...]:
        return tuple(each for each in self.findings if not each.silenced_note)

    @property
    def silenced_findings(self) -> tuple[Finding, ...]:
        return tuple(each for each in self.findings if each.silenced_note)


def brief_sheet(version: BriefVersion, guide: MapGuide, *, students: int = 1, nth_set: int = 1) -> BriefSheet:
    """Time and supplies are for the stage of somebody's n-th set; one query unless targets are prefetched."""
    lash_map = version.lash_map
    stages = _stages(version)
    stage = [row for row in stages if row.from_set <= max(nth_set, 1)][-1]
    return BriefSheet(
        version=version,
        lash_map=lash_map,
        zones=tuple(zone_words(zone) for zone in lash_map.zones),
        layers=tuple(layer_words(layer) for layer in lash_map.layers),
        tables=tuple(_table(version, side) for side in lash_map.sides),
        findings=findings(version, guide),
        loads=load_lines(lash_map, guide),
        stages=stages,
        stage=stage,
        check_minutes=_check_minutes(guide, stage),
        times=tuple(_times(version, guide, stage)),
        supplies=session_supplies(
            lash_map, version.fan_plan, stage.minutes, guide.supplies, students=students
        ),
    )


def findings(version: BriefVersion, guide: MapGuide) -> tuple[Finding, ...]:
    """What the rules of the trade find on the map, with the notes that silence them."""
    for_beginners = version.difficulty == Difficulty.BEGINNER
    found = check_map(version.lash_map, guide.checks, for_beginners=for_beginners)
    return silence(found, version.silenced)


def fan_words(fan: Fan) -> str:
    """How a fan is built: "open fan 30–50°, 6 × 0.05 mm, curl C"; a single filament is an extension."""
    build = f"{fan.filaments} × {millimetres(fan.diameter_hundredths)} mm, curl {fan.curl}"
    if fan.filaments == 1:
        return f"single extension, {millimetres(fan.diameter_hundredths)} mm, curl {fan.curl}"
    if fan.shape == "open":
        return f"{SHAPE_WORDS[fan.shape]} {fan.opening_min_deg}–{fan.opening_max_deg}°, {build}"
    return f"{SHAPE_WORDS[fan.shape]}, {build}"


def length_words(planned: Cell) -> str:
    """ "9 mm", or "8 mm 75 %, 12 mm 25 %" from the shortest up."""
    if len(planned.lengths) == 1:
        return f"{planned.longest_mm} mm"
    return ", ".join(f"{part.length_mm} mm {part.share} %" for part in planned.lengths)


def _table(version: BriefVersion, side: str) -> EyeTable:
    eye = "left" if side == BOTH else side
    counts = length_counts(version.lash_map, version.fan_plan)
    return EyeTable(
        eye=SIDE_WORDS[side],
        layers=tuple(
            LayerTable(
                layer_words(layer),
                tuple(
                    _line(version, (side, zone, layer), counts[eye, zone, layer])
                    for zone in version.lash_map.zones
                ),
            )
            for layer in version.lash_map.layers
        ),
    )


def _line(version: BriefVersion, key: CellKey, by_length: dict[int, int]) -> CellLine:
    planned = version.lash_map.cells[key]
    return CellLine(
        key=key,
        zone=zone_words(key[1]),
        layer=layer_words(key[2]),
        lengths=length_words(planned),
        fan=fan_words(planned.fan),
        fans=sum(by_length.values()),
        by_length=tuple(by_length.items()),
    )


def _stages(version: BriefVersion) -> tuple[StageRow, ...]:
    fans = 2 * version.fans_per_eye
    targets = sorted(version.targets.all(), key=lambda target: target.from_set)
    return tuple(StageRow(row.from_set, row.minutes, pace_words(row.minutes, fans)) for row in targets)


def _check_minutes(guide: MapGuide, stage: StageRow) -> int:
    """A very short target leaves no time for the check."""
    return min(guide.check_minutes, stage.minutes - 1)


def _times(version: BriefVersion, guide: MapGuide, stage: StageRow) -> Iterator[TimeLine]:
    rows = time_plan(version.fan_plan, stage.minutes, check_minutes=_check_minutes(guide, stage))
    for row in rows:
        yield TimeLine(
            eye=EYE_WORDS[row.eye],
            layer=layer_words(row.layer),
            zone=zone_words(row.zone),
            fans=row.fans,
            lasts=_minutes(row),
            done_by=f"{row.done_by_s // 3600}:{row.done_by_s // 60 % 60:02d}:{row.done_by_s % 60:02d}",
        )


def _minutes(row: TimeRow) -> str:
    return f"{row.seconds // 60} min {row.seconds % 60:02d} s"
