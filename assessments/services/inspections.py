from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from functools import cached_property

from django.db import transaction
from django.db.models import Q

from academy.errors import DomainError
from academy.models import Membership
from assessments.models import Inspection, Position, PracticeSet
from assessments.scoring.evidence import OFF_MAP_MARK, PositionFinding, ScoringInputError
from assessments.scoring.sampling import draw_positions
from assessments.selectors.sampling_plan import sample_plan
from courses.mapping.lash_map import zone_words
from courses.models import Fault
from courses.selectors.catalogue import bench_faults

FINDINGS = set(Position.Finding.values)
FOUND = ("finding", "gap_mm", "direction_deg", "found_length_mm", "seen_at")
DRAWN = [
    *("index", "eye", "zone", "layer", "fan"),
    *("wants_gap", "wants_direction", "wants_length"),
]


class FindingRefused(DomainError):
    """The finding cannot be; the position stays as it was."""


@transaction.atomic
def draw_inspection(
    *, practice_set: PracticeSet, inspector: Membership, seed: int, now: datetime
) -> Inspection:
    """Fix which fans are looked at, before anyone looks: from the rubric's plan and the brief's fans."""
    plan = sample_plan(practice_set.brief, practice_set.rubric)
    inspection = Inspection.objects.create(
        practice_set=practice_set, inspector=inspector, seed=seed, plan=asdict(plan), opened_at=now
    )
    Position.objects.bulk_create(
        Position(inspection=inspection, **asdict(drawn)) for drawn in draw_positions(plan, seed=seed)
    )
    return inspection


@transaction.atomic
def draw_second_look(*, first: Inspection, inspector: Membership, now: datetime) -> Inspection:
    """A blind inspection of the very positions of the first one, none of them looked at yet."""
    second = Inspection.objects.create(
        practice_set_id=first.practice_set_id,
        inspector=inspector,
        is_blind=True,
        seed=first.seed,
        plan=first.plan,
        opened_at=now,
    )
    Position.objects.bulk_create(
        Position(inspection=second, **place) for place in first.positions.values(*DRAWN)
    )
    return second


class Sheet:
    """An inspection read once for many findings, three queries in all: the first of a finished set, or
    ``second_look``. ``write`` saves what they found.

    Good for as long as the set is held against other writers.
    """

    def __init__(self, practice_set: PracticeSet, second_look: Inspection | None = None) -> None:
        self.practice_set = practice_set
        self.second_look = second_look
        self._found: dict[int, Position] = {}
        self._faults: dict[int, set[int]] = {}

    def note(self, position: Position, faults: Sequence[Fault]) -> None:
        self._found[position.index] = position
        self._faults[position.index] = {fault.pk for fault in faults}

    @transaction.atomic(savepoint=False)
    def write(self) -> None:
        """Save the findings noted since it was last called, all in one statement; nothing costs nothing."""
        Position.objects.bulk_create(
            self._found.values(), update_conflicts=True, unique_fields=["id"], update_fields=FOUND
        )
        self._write_faults()
        self._found, self._faults = {}, {}

    def _write_faults(self) -> None:
        ticks, gone, new = Position.faults.through.objects, Q(), []
        for index, faults in self._faults.items():
            key, before = self.positions[index].pk, self.ticked[index]
            if before - faults:
                gone |= Q(position_id=key, fault_id__in=before - faults)
            new += [Position.faults.through(position_id=key, fault_id=fault) for fault in faults - before]
            self.ticked[index] = faults
        if gone:
            ticks.filter(gone).delete()
        ticks.bulk_create(new)

    @property
    def is_open(self) -> bool:
        if self.second_look is not None:
            return self.second_look.closed_at is None
        return self.practice_set.state == "finished"

    @cached_property
    def positions(self) -> dict[int, Position]:
        if self.second_look is not None:
            drawn = self.second_look.positions.all()
        else:
            drawn = Position.objects.filter(
                inspection__practice_set=self.practice_set, inspection__is_blind=False
            )
        return {position.index: position for position in drawn.prefetch_related("faults")}

    @cached_property
    def ticked(self) -> dict[int, set[int]]:
        """Keys of the faults that stand in the database, by position."""
        return {index: {fault.pk for fault in each.faults.all()} for index, each in self.positions.items()}

    @cached_property
    def offered(self) -> dict[str, Fault]:
        """Faults of the catalogue that may be ticked on some fan shape."""
        return {fault.code: fault for fault in bench_faults() if not fault.is_bare_lash}


@dataclass(frozen=True, slots=True)
class Measures:
    """What was measured at one position, each None where nothing was."""

    gap_mm: float | None = None
    direction_deg: float | None = None
    length_mm: Decimal | None = None


def record_finding(
    *, practice_set: PracticeSet, data: Mapping[str, object], now: datetime, sheet: Sheet | None = None
) -> Position:
    """What was found at one drawn position; ``unseen`` takes an earlier finding back.

    A length off the map is itself a fault, ticked or not. A finding is refused before anything is changed, on
    ``sheet`` too. With a ``sheet`` it is saved when that is written, without one at once.
    """
    shared, sheet = sheet, sheet or Sheet(practice_set)
    position = _open_position(sheet, data.get("index"))
    finding = _finding(data)
    faults = _faults(sheet, position, finding, data.get("faults") or [])
    measures = Measures() if finding == Position.Finding.UNSEEN else _measures(data)
    found = _checked(sheet, position, finding, measures, faults)
    if found.is_off_map:
        finding, faults = Position.Finding.FAULTY, _with_off_map(sheet, faults)
    position.finding = finding
    position.gap_mm = None if found.gap_mm is None else Decimal(f"{found.gap_mm:.2f}")
    position.direction_deg = None if found.direction_deg is None else round(found.direction_deg)
    position.found_length_mm = found.length_mm
    position.seen_at = None if finding == Position.Finding.UNSEEN else now
    sheet.note(position, faults)
    if shared is None:
        sheet.write()
    return position


def _open_position(sheet: Sheet, index: object) -> Position:
    if not sheet.is_open:
        raise FindingRefused(
            "not_inspecting", "This set is not open for inspection. Reload the page to see where it is."
        )
    if isinstance(index, bool) or not isinstance(index, int):
        raise FindingRefused("no_position", "Which position was looked at is missing. Reload the page.")
    position = sheet.positions.get(index)
    if position is None:
        raise FindingRefused(
            "no_position", f"Position {index + 1} was not drawn for this set. Reload the page."
        )
    return position


def _finding(data: Mapping[str, object]) -> Position.Finding:
    finding = data.get("finding")
    if not isinstance(finding, str) or finding not in FINDINGS:
        raise FindingRefused("bad_finding", "A fan is clean, with a fault, or the lash is bare. Choose one.")
    return Position.Finding(finding)


def _faults(sheet: Sheet, position: Position, finding: str, codes: object) -> list[Fault]:
    """Refused when one of them is none on the fan shape planned at the position."""
    if not isinstance(codes, list) or not all(isinstance(code, str) for code in codes):
        raise FindingRefused("bad_faults", "The faults cannot be read. Tick them again.")
    if bool(codes) != (finding == Position.Finding.FAULTY):
        message = (
            "Tick at least one fault, or mark the fan clean."
            if not codes
            else "Only a faulty fan carries faults."
        )
        raise FindingRefused("faults_and_finding", message)
    shape = position.planned_cell(sheet.practice_set.brief.lash_map).fan.shape
    for code in codes:
        if code not in sheet.offered or not sheet.offered[code].counts_on(shape):
            raise FindingRefused("unknown_fault", f"{code[:30]} is not a fault on this brief. Untick it.")
    return [sheet.offered[code] for code in codes]


def _measure(value: object, what: str, unit: str) -> float | None:
    """NaN and infinity are numbers here; ``PositionFinding`` refuses them."""
    if value is None:
        return None
    try:
        if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
            raise TypeError
        return float(value)
    except (TypeError, OverflowError) as problem:
        shown = str(value)[:20]
        message = f'The {what} "{shown}" is not a number. Enter {unit}.'
        raise FindingRefused(f"bad_{what}", message) from problem


def _measures(data: Mapping[str, object]) -> Measures:
    length_mm = _measure(data.get("found_length_mm"), "length", "millimetres")
    return Measures(
        gap_mm=_measure(data.get("gap_mm"), "gap", "millimetres"),
        direction_deg=_measure(data.get("direction_deg"), "direction", "degrees"),
        length_mm=None if length_mm is None else Decimal(str(length_mm)),
    )


def _checked(
    sheet: Sheet, position: Position, finding: str, measures: Measures, faults: Sequence[Fault]
) -> PositionFinding:
    """The finding as marks will read it; refused when measures or faults cannot be."""
    planned_mm = position.planned_mm(sheet.practice_set.brief.lash_map)
    try:
        return PositionFinding(
            eye=position.eye,
            zone=zone_words(position.zone),
            layer=position.layer,
            faults=frozenset(fault.code for fault in faults),
            bare=finding == Position.Finding.BARE,
            gap_mm=measures.gap_mm,
            direction_deg=measures.direction_deg,
            fan=position.fan,
            length_mm=measures.length_mm,
            planned_mm=planned_mm,
        )
    except ScoringInputError as problem:
        raise FindingRefused(problem.code, problem.message) from problem


def _with_off_map(sheet: Sheet, faults: list[Fault]) -> list[Fault]:
    off_map = sheet.offered[OFF_MAP_MARK]
    return faults if off_map in faults else [*faults, off_map]


@transaction.atomic
def close_inspection(*, practice_set: PracticeSet, inspector: Membership, now: datetime) -> Inspection:
    first = Inspection.objects.select_for_update().get(practice_set=practice_set, is_blind=False)
    return _close(first, inspector, now)


@transaction.atomic
def close_second_look(*, inspection: Inspection, inspector: Membership, now: datetime) -> Inspection:
    """The same for a blind inspection, which the caller holds."""
    if inspection.closed_at is not None:
        raise FindingRefused("not_now", "This inspection is closed. Go on to the marks.")
    return _close(inspection, inspector, now)


def _close(inspection: Inspection, inspector: Membership, now: datetime) -> Inspection:
    left = inspection.positions.filter(finding=Position.Finding.UNSEEN).count()
    if left:
        raise FindingRefused(
            "positions_left",
            f"Not looked at yet: {left} of {inspection.positions.count()} positions. "
            "Inspect them, then close the inspection.",
        )
    inspection.inspector, inspection.closed_at = inspector, now
    inspection.save(update_fields=["inspector", "closed_at"])
    return inspection
