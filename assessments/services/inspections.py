from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from decimal import Decimal, InvalidOperation

from django.db import transaction

from academy.errors import DomainError
from academy.models import Membership
from assessments.models import Inspection, Position, PracticeSet
from assessments.scoring.evidence import PositionFinding, ScoringInputError
from assessments.scoring.sampling import SamplePlan, draw_positions
from courses.models import Fault
from courses.selectors.catalogue import bench_faults

FINDINGS = set(Position.Finding.values)


class FindingRefused(DomainError):
    """The finding cannot be; the position stays as it was."""


@transaction.atomic
def draw_inspection(
    *, practice_set: PracticeSet, inspector: Membership, seed: int, now: datetime
) -> Inspection:
    """Fix which fans are looked at, before anyone looks: from the rubric's plan and the brief's fans."""
    plan = _plan_for(practice_set)
    inspection = Inspection.objects.create(
        practice_set=practice_set, inspector=inspector, seed=seed, plan=asdict(plan), opened_at=now
    )
    Position.objects.bulk_create(
        Position(inspection=inspection, **asdict(drawn)) for drawn in draw_positions(plan, seed=seed)
    )
    return inspection


def _plan_for(practice_set: PracticeSet) -> SamplePlan:
    brief, rubric = practice_set.brief, practice_set.rubric
    cells = len(brief.zones) * len(brief.layers)
    fans_per_cell = max(1, brief.fans_per_eye // cells)
    per_zone = min(rubric.per_zone, fans_per_cell * len(brief.layers))
    return SamplePlan(
        zones=tuple(brief.zones),
        layers=tuple(brief.layers),
        per_zone=per_zone,
        fans_per_cell=fans_per_cell,
        gaps_per_zone=min(rubric.gaps_per_zone, per_zone),
        directions_per_zone=min(rubric.directions_per_zone, per_zone),
    )


@transaction.atomic
def record_finding(*, practice_set: PracticeSet, data: Mapping[str, object], now: datetime) -> Position:
    """What was found at one drawn position; ``unseen`` takes an earlier finding back."""
    position = _open_position(practice_set, data.get("index"))
    position.finding = _finding(data)
    faults = _faults(practice_set, position.finding, data.get("faults") or [])
    position.gap_mm, position.direction_deg = _gap(data.get("gap_mm")), _direction(data.get("direction_deg"))
    _check_possible(position, faults)
    position.seen_at = None if position.finding == Position.Finding.UNSEEN else now
    position.save(update_fields=["finding", "gap_mm", "direction_deg", "seen_at"])
    position.faults.set(faults)
    return position


def _open_position(practice_set: PracticeSet, index: object) -> Position:
    if practice_set.state != "finished":
        raise FindingRefused(
            "not_inspecting", "This set is not open for inspection. Reload the page to see where it is."
        )
    if isinstance(index, bool) or not isinstance(index, int):
        raise FindingRefused("no_position", "Which position was looked at is missing. Reload the page.")
    position = Position.objects.filter(
        inspection__practice_set=practice_set, inspection__is_blind=False, index=index
    ).first()
    if position is None:
        raise FindingRefused(
            "no_position", f"Position {index + 1} was not drawn for this set. Reload the page."
        )
    return position


def _finding(data: Mapping[str, object]) -> Position.Finding:
    finding = data.get("finding")
    if finding not in FINDINGS:
        raise FindingRefused("bad_finding", "A fan is clean, with a fault, or the lash is bare. Choose one.")
    return Position.Finding(finding)


def _faults(practice_set: PracticeSet, finding: str, codes: object) -> list[Fault]:
    if not isinstance(codes, list):
        raise FindingRefused("bad_faults", "The faults cannot be read. Tick them again.")
    if bool(codes) != (finding == Position.Finding.FAULTY):
        message = (
            "Tick at least one fault, or mark the fan clean."
            if not codes
            else "Only a faulty fan carries faults."
        )
        raise FindingRefused("faults_and_finding", message)
    offered = {
        fault.code: fault for fault in bench_faults(practice_set.brief.fan_shape) if not fault.is_bare_lash
    }
    unknown = [str(code) for code in codes if code not in offered]
    if unknown:
        raise FindingRefused(
            "unknown_fault", f"{', '.join(unknown)} is not a fault on this brief. Untick it."
        )
    return [offered[code] for code in codes]


def _gap(value: object) -> Decimal | None:
    if value is None:
        return None
    try:
        gap = Decimal(str(value)).quantize(Decimal("0.01"))
    except InvalidOperation as problem:
        raise FindingRefused("bad_gap", f"The gap {value!r} is not a number. Enter millimetres.") from problem
    return gap


def _direction(value: object) -> int | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise FindingRefused("bad_direction", f"The direction {value!r} is not a number. Enter degrees.")
    return round(value)


def _check_possible(position: Position, faults: list[Fault]) -> None:
    try:
        PositionFinding(
            eye=position.eye,
            zone=position.zone,
            layer=position.layer,
            faults=frozenset(fault.code for fault in faults),
            bare=position.finding == Position.Finding.BARE,
            gap_mm=None if position.gap_mm is None else float(position.gap_mm),
            direction_deg=position.direction_deg,
        )
    except ScoringInputError as problem:
        raise FindingRefused(problem.code, problem.message) from problem


@transaction.atomic
def close_inspection(*, practice_set: PracticeSet, inspector: Membership, now: datetime) -> Inspection:
    inspection = Inspection.objects.select_for_update().get(practice_set=practice_set, is_blind=False)
    left = inspection.positions.filter(finding=Position.Finding.UNSEEN).count()
    if left:
        raise FindingRefused(
            "positions_left",
            f"{left} positions have not been looked at. Inspect them, then close the inspection.",
        )
    inspection.inspector, inspection.closed_at = inspector, now
    inspection.save(update_fields=["inspector", "closed_at"])
    return inspection
