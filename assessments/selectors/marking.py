"""Everything the marks of one set rest on, gathered and handed to the pure rules."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from academy.errors import NotHere
from academy.read_once import read_once
from assessments.models import Criterion, HygieneLine, Inspection, Position, PracticeSet, RubricVersion
from assessments.scoring.drills import FaultRate, FaultSpec, fault_rates, propose_drills
from assessments.scoring.entry import MarkEntry, final_levels
from assessments.scoring.evidence import Evidence, PositionFinding
from assessments.scoring.marks import CriterionSpec, SetResult, set_result
from assessments.scoring.proposals import Proposal, propose
from assessments.scoring.rules import parse_rule
from courses.mapping.lash_map import LashMap
from courses.models import Drill, Fault
from courses.selectors.catalogue import bench_faults, every_drill, every_fault


@dataclass(frozen=True, slots=True)
class Marking:
    """Proposals and verdict of one set for one state of the educator's entry."""

    criteria: tuple[Criterion, ...]
    specs: tuple[CriterionSpec, ...]
    proposals: Mapping[str, Proposal]
    levels: Mapping[str, int]
    result: SetResult
    rates: tuple[FaultRate, ...]


@dataclass(frozen=True, slots=True)
class DrillChoice:
    """``why``: the faults that ask for it, empty for one nothing found asks for."""

    drill: Drill
    why: str


def first_inspection(practice_set: PracticeSet) -> Inspection | None:
    """The first look, with its positions and their faults; three queries."""
    found = Inspection.objects.filter(practice_set=practice_set, is_blind=False)
    return found.select_related("inspector__user").prefetch_related("positions__faults").first()


@read_once  # what was found is final once it is asked for marks
def inspection_of(practice_set: PracticeSet) -> Inspection:
    """The same, where it must exist; NotHere before the set is finished."""
    found = first_inspection(practice_set)
    if found is None:
        raise NotHere("inspection")
    return found


def findings(positions: Iterable[Position], lash_map: LashMap) -> tuple[PositionFinding, ...]:
    """What was found at the positions looked at, beside the map; expects ``faults`` to be prefetched."""
    return tuple(
        PositionFinding(
            eye=position.eye,
            zone=position.zone,
            layer=position.layer,
            faults=frozenset(fault.code for fault in position.faults.all()),
            bare=position.finding == Position.Finding.BARE,
            gap_mm=None if position.gap_mm is None else float(position.gap_mm),
            direction_deg=position.direction_deg,
            fan=position.fan,
            length_mm=position.found_length_mm,
            planned_mm=position.planned_mm(lash_map),
        )
        for position in positions
        if position.finding != Position.Finding.UNSEEN
    )


@read_once
def criteria_of(rubric: RubricVersion) -> tuple[Criterion, ...]:
    """Criteria with skill and descriptors; gates first, then the rubric's order; two queries."""
    rows = rubric.criteria.select_related("skill").prefetch_related("descriptors")
    return tuple(sorted(rows, key=lambda row: (not row.is_gate, row.order)))


@read_once
def hygiene_lines(rubric: RubricVersion) -> list[HygieneLine]:
    return list(rubric.hygiene_lines.all())


def marking(
    practice_set: PracticeSet,
    inspection: Inspection,
    entry: MarkEntry,
    *,
    without: Collection[str] = (),
) -> Marking:
    """Proposals and verdict as they stand with this entry; ``without``: kinds of criteria to leave out."""
    criteria = tuple(row for row in criteria_of(practice_set.rubric) if row.kind not in without)
    found = findings(inspection.positions.all(), practice_set.brief.lash_map)
    evidence = Evidence(
        findings=found,
        worked_s=practice_set.worked_s or None,
        target_s=float(practice_set.target_s),
        lines_missed=entry.lines_missed,
        left_count=entry.left_count,
        right_count=entry.right_count,
    )
    specs = tuple(spec_of(criterion) for criterion in criteria)
    proposals = {row.code: propose(parse_rule(row.kind, row.rule), evidence) for row in criteria}
    levels = final_levels(proposals, entry)
    return Marking(
        criteria=criteria,
        specs=specs,
        proposals=proposals,
        levels=levels,
        result=set_result(specs, levels),
        rates=fault_rates(found, [fault_spec(fault) for fault in every_fault()]),
    )


def spec_of(criterion: Criterion) -> CriterionSpec:
    return CriterionSpec(
        code=criterion.code,
        name=criterion.name,
        skill=criterion.skill.code,
        kind=criterion.kind,
        weight=float(criterion.weight),
        is_gate=criterion.is_gate,
        gate_min=criterion.gate_min,
        blocks_time=criterion.blocks_time,
    )


def fault_spec(fault: Fault) -> FaultSpec:
    """Expects ``skill`` and ``drill`` to be selected."""
    return FaultSpec(fault.code, fault.name, fault.skill.code, fault.skill.is_gate, fault.drill.code)


def drill_choices(rates: tuple[FaultRate, ...]) -> list[DrillChoice]:
    """Every drill, the proposed ones first with the reason; one query."""
    proposed = {rate.drill: rate for rate in propose_drills(rates)}
    rows = {drill.code: drill for drill in every_drill()}
    first = [DrillChoice(rows[code], _why(rate)) for code, rate in proposed.items() if code in rows]
    return first + [DrillChoice(drill, "") for code, drill in rows.items() if code not in proposed]


def _why(rate: FaultRate) -> str:
    return f"{rate.name}: {rate.faults} of {rate.inspected}"


def offered_faults(practice_set: PracticeSet) -> list[Fault]:
    """Faults that count on any fan shape of this brief, gates first; one query."""
    found = bench_faults(*practice_set.brief.fan_shapes)
    return sorted(found, key=lambda fault: (not fault.skill.is_gate, fault.order))
