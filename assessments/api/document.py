"""The set document: all that a bench screen needs to work on one set."""

from datetime import datetime
from typing import Any

from academy.models import Membership
from assessments.models import Inspection, MarkingDraft, Position, PracticeSet, SecondMark
from assessments.scoring.entry import MarkEntry, read_entry
from assessments.scoring.timing import Clock
from assessments.selectors.marking import (
    DrillChoice,
    Marking,
    drill_choices,
    first_inspection,
    marking,
    offered_faults,
)
from assessments.selectors.second_marks import second_look, second_marking
from assessments.selectors.sets import clock_of
from courses.mapping.lash_map import LashMap

MARKABLE = ("finished", "inspected", "graded")


def set_document(practice_set: PracticeSet, *, now: datetime) -> dict[str, Any]:
    """Eleven queries once it is finished, whatever was found."""
    inspection = first_inspection(practice_set)
    document = _facts(practice_set, inspection, now)
    if inspection and practice_set.state in MARKABLE:
        draft = draft_of(practice_set)
        document |= draft_document(draft)
        document |= marking_document(marking(practice_set, inspection, entry_of(draft)))
    return document


def second_document(second_mark: SecondMark, *, now: datetime) -> dict[str, Any]:
    """The same for a blind second look, as if it were the only one; nothing of the first result is read."""
    looked = second_look(second_mark)
    facts = _facts(second_mark.practice_set, looked.inspection, now)
    state = "inspected" if looked.inspection.closed_at else "finished"
    entry = read_entry(looked.draft)
    return {
        **facts,
        "uid": str(looked.uid),  # what a device keeps for this look stays apart from the first
        "state": "graded" if looked.state != SecondMark.State.OPEN else state,
        **second_draft(looked),
        **marking_document(second_marking(second_mark, entry)),
    }


def second_draft(second_mark: SecondMark) -> dict[str, Any]:
    by = second_mark.assigned_to.name if second_mark.draft_saved_at else None
    saved_at = _instant(second_mark.draft_saved_at)
    return {"draft": {"data": second_mark.draft, "saved_at": saved_at, "saved_by": by}}


def _facts(practice_set: PracticeSet, inspection: Inspection | None, now: datetime) -> dict[str, Any]:
    return {
        "uid": str(practice_set.uid),
        "number": practice_set.number,
        "state": practice_set.state,
        "target_s": practice_set.target_s,
        "server_now": _instant(now),
        "student": _person(practice_set.student),
        "brief": _brief(practice_set),
        "head": {"name": practice_set.head.name},
        "clock": _clock(clock_of(practice_set, now=now)),
        "faults": [_fault(fault) for fault in offered_faults(practice_set)],
        "inspection": _inspection(practice_set, inspection) if inspection else None,
    }


def draft_of(practice_set: PracticeSet) -> MarkingDraft | None:
    return MarkingDraft.objects.filter(practice_set=practice_set).select_related("saved_by__user").first()


def entry_of(draft: MarkingDraft | None) -> MarkEntry:
    return read_entry(draft.data) if draft else MarkEntry()


def draft_document(draft: MarkingDraft | None) -> dict[str, Any]:
    if draft is None:
        return {"draft": {"data": {}, "saved_at": None, "saved_by": None}}
    return {
        "draft": {"data": draft.data, "saved_at": _instant(draft.saved_at), "saved_by": draft.saved_by.name}
    }


def marking_document(found: Marking) -> dict[str, Any]:
    result = found.result
    gate_keys = ("code", "name", "level", "needed", "passed", "words")
    return {
        "proposals": proposals(found),
        "verdict": {
            "score": result.score,
            "gates": [{key: getattr(gate, key) for key in gate_keys} for gate in result.gates],
            "gates_passed": result.gates_passed,
            "time_credit": result.time_credit,
            "time_words": result.time_words,
            "words": list(result.words),
        },
        "drills": [_drill(choice) for choice in drill_choices(found.rates)],
    }


def proposals(found: Marking) -> list[dict[str, Any]]:
    return [
        {
            "code": criterion.code,
            "name": criterion.name,
            "skill": criterion.skill.code,
            "kind": criterion.kind,
            "is_gate": criterion.is_gate,
            "level": found.proposals[criterion.code].level,
            "words": found.proposals[criterion.code].words,
            "status": found.proposals[criterion.code].status,
            "cap": found.proposals[criterion.code].cap,
            "descriptors": [descriptor.text for descriptor in criterion.descriptors.all()],
        }
        for criterion in found.criteria
    ]


def _instant(at: datetime | None) -> str | None:
    return at.isoformat().replace("+00:00", "Z") if at else None


def _person(member: Membership) -> dict[str, Any]:
    return {"id": member.pk, "name": member.name}


def _brief(practice_set: PracticeSet) -> dict[str, Any]:
    version = practice_set.brief
    return {
        "name": version.brief.name,
        "version": version.number,
        "style": version.style,
        "fan_shape": version.fan_shape,
        "fan_shapes": list(version.fan_shapes),
        "zones": version.zones,
        "layers": version.layers,
        "map": version.map,
    }


def _clock(clock: Clock) -> dict[str, Any]:
    return {
        "worked_s": clock.worked_s,
        "paused_s": clock.paused_s,
        "running_since": _instant(clock.running_since),
        "started_at": _instant(clock.started_at),
        "finished_at": _instant(clock.finished_at),
        "splits": [
            {"eye": split.eye, "layer": split.layer, "worked_s": split.worked_s, "total_s": split.total_s}
            for split in clock.splits
        ],
    }


def _fault(fault: Any) -> dict[str, Any]:
    return {
        "code": fault.code,
        "name": fault.name,
        "skill": fault.skill.code,
        "is_gate": fault.skill.is_gate,
        "is_bare_lash": fault.is_bare_lash,
        "fan_shapes": fault.fan_shapes,
    }


def _inspection(practice_set: PracticeSet, inspection: Inspection) -> dict[str, Any]:
    lash_map = practice_set.brief.lash_map
    return {
        "closed": inspection.closed_at is not None,
        "fans_per_cell": inspection.plan["fans_per_cell"],
        "positions": [_position(lash_map, position) for position in inspection.positions.all()],
    }


def _position(lash_map: LashMap, position: Position) -> dict[str, Any]:
    return {
        "index": position.index,
        "eye": position.eye,
        "zone": position.zone,
        "layer": position.layer,
        "fan": position.fan,
        "length_mm": position.planned_mm(lash_map),
        "fan_shape": position.planned_cell(lash_map).fan.shape,
        "wants_gap": position.wants_gap,
        "wants_direction": position.wants_direction,
        "wants_length": position.wants_length,
        "finding": position.finding,
        "faults": [fault.code for fault in position.faults.all()],
        "gap_mm": None if position.gap_mm is None else float(position.gap_mm),
        "direction_deg": position.direction_deg,
        "found_length_mm": None if position.found_length_mm is None else float(position.found_length_mm),
    }


def _drill(choice: DrillChoice) -> dict[str, Any]:
    drill = choice.drill
    return {
        "code": drill.code,
        "name": drill.name,
        "count_target": drill.count_target,
        "counted": drill.counted,
        "why": choice.why,
    }
