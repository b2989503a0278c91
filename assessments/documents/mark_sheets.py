"""The signed marks of one set on paper."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.dateformat import format as format_date

from academy import pdf
from academy.templatetags.ui import level_word, minutes
from assessments.models import Grade, PracticeSet
from assessments.scoring.timing import Clock
from assessments.selectors.faults import FaultLine, FaultMap
from assessments.selectors.records import MarkLine, Pause, Revision, SetRecord
from courses.mapping.lash_map import zone_words
from courses.words import EYE_WORDS

_DAY = "j F Y"
_INSTANT = "j F Y, H:i"


class NotSigned(ValueError):
    """A mark sheet was asked for a set without signed marks."""


def mark_sheet(record: SetRecord) -> bytes:
    """The signed marks of one set as an A4 PDF; the same record gives the same bytes."""
    return pdf.render("mark_sheet.typ", mark_sheet_data(record), at=_signed(record).grade.signed_at)


def mark_sheet_name(record: SetRecord) -> str:
    grade, practice_set = _signed(record).grade, record.practice_set
    return f"Mark sheet {practice_set.student.name}, set {practice_set.number}, revision {grade.revision}.pdf"


def mark_sheet_data(record: SetRecord) -> dict[str, Any]:
    """What the mark sheet says, as text ready to print."""
    newest, practice_set = _signed(record), record.practice_set
    grade = newest.grade
    zone = ZoneInfo(practice_set.academy.time_zone)
    return {
        "school": practice_set.academy.name,
        "town": practice_set.academy.town,
        "student": practice_set.student.name,
        "title": f"Mark sheet, set {practice_set.number}",
        "number": practice_set.number,
        "setup": _setup(practice_set),
        "clock": _clock(practice_set, record.clock, zone),
        "splits": _splits(record),
        "pauses": [_pause(pause, zone) for pause in record.pauses],
        "result": _result(grade),
        "marks": [_mark(line) for line in newest.marks],
        "faults": _fault_rows(record.faults) if record.faults else [],
        "note": grade.note,
        "next": _next(grade),
        "signed": _signature(grade, zone),
    }


def _signed(record: SetRecord) -> Revision:
    if record.newest is None:
        raise NotSigned("This set has no signed marks yet. Sign them first.")
    return record.newest


def _setup(practice_set: PracticeSet) -> list[tuple[str, str]]:
    brief = practice_set.brief
    return [
        ("Brief", f"{brief.brief.name}, version {brief.number}"),
        ("Head", f"{practice_set.head.name}, strip fitted {_day(practice_set.strip_fitted_on)}"),
        ("Adhesive", f"lot {practice_set.adhesive_lot}, opened {_day(practice_set.adhesive_opened_on)}"),
        ("Room", f"{practice_set.room_c:g} °C, {practice_set.room_rh} % RH"),
        ("Rubric", f"{practice_set.rubric.rubric.name}, version {practice_set.rubric.number}"),
    ]


def _clock(practice_set: PracticeSet, clock: Clock, zone: ZoneInfo) -> list[tuple[str, str]]:
    return [
        ("Started", _instant(practice_set.started_at, zone)),
        ("Finished", _instant(practice_set.finished_at, zone)),
        ("Worked", f"{minutes(practice_set.worked_s)} of {minutes(practice_set.target_s)} allowed"),
        ("Paused", minutes(clock.paused_s) if clock.paused_s else "not paused"),
    ]


def _splits(record: SetRecord) -> list[tuple[str, str, str]]:
    return [(split.name, minutes(split.worked_s), minutes(split.total_s)) for split in record.splits]


def _pause(pause: Pause, zone: ZoneInfo) -> str:
    reason = f": {pause.reason}" if pause.reason else ""
    return f"{format_date(pause.at.astimezone(zone), 'H:i')}, {minutes(pause.lasted_s)}{reason}"


def _result(grade: Grade) -> dict[str, Any]:
    return {
        "gates": [gate["words"] for gate in grade.verdict.get("gates", [])],
        "gates_passed": grade.gates_passed,
        "score": "no score" if grade.score is None else f"{grade.score:.0f} of 100",
        "words": [
            words
            for words in grade.verdict.get("words", [])
            if words not in {gate["words"] for gate in grade.verdict.get("gates", [])}
        ],
    }


def _mark(line: MarkLine) -> dict[str, str]:
    return {
        "criterion": line.name,
        "gate": "gate" if line.is_gate else "",
        "level": str(line.level),
        "word": level_word(line.level),
        "words": line.how,
        "changed": line.remark,
    }


def _fault_rows(found: FaultMap) -> list[dict[str, str]]:
    """One row for each zone of each eye, right eye first, as the drawing stands."""
    return [
        {
            "place": f"{EYE_WORDS[eye].capitalize()}, {zone_words(zone)}",
            "inspected": str(sum((mark.eye, mark.zone) == (eye, zone) for mark in found.positions)),
            "found": _found(
                line for line in found.lines if (line.eye, line.zone) == (EYE_WORDS[eye], zone_words(zone))
            ),
        }
        for eye in ("right", "left")
        for zone in found.lash_map.zones
    ]


def _found(lines: Iterable[FaultLine]) -> str:
    told = [f"{', '.join(line.faults)} ({line.layer}, fan {line.fan})" for line in lines]
    return "; ".join(told) or "nothing"


def _next(grade: Grade) -> dict[str, str] | None:
    if grade.drill is None:
        return None
    return {
        "drill": grade.drill.name,
        "count": f"{grade.drill_count or grade.drill.count_target} {grade.drill.counted}",
        "due": _day(grade.drill_due_on) if grade.drill_due_on else "no date set",
        "steps": grade.drill.steps,
    }


def _signature(grade: Grade, zone: ZoneInfo) -> dict[str, str]:
    return {
        "by": grade.signed_by.name,
        "at": _instant(grade.signed_at, zone),
        "revision": str(grade.revision),
        "reason": grade.reason,
        "inspector": grade.inspection.inspector.name,
    }


def _day(day: Any) -> str:
    return format_date(day, _DAY)


def _instant(at: datetime | None, zone: ZoneInfo) -> str:
    return "not recorded" if at is None else f"{format_date(at.astimezone(zone), _INSTANT)} ({zone.key})"
