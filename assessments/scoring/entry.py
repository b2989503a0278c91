"""What an educator enters when marking: read, checked and joined with the proposals to final levels."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.marks import CriterionSpec
from assessments.scoring.proposals import PROPOSED, Proposal

MAX_NOTE = 2000
MAX_REASON = 500
MAX_COUNT = 400
MAX_CODE = 30


@dataclass(frozen=True, slots=True)
class MarkEntry:
    """``levels`` holds only what a person chose; None for lines or counts means not looked at yet."""

    lines_missed: tuple[str, ...] | None = None
    left_count: int | None = None
    right_count: int | None = None
    levels: Mapping[str, int] = field(default_factory=dict)
    reasons: Mapping[str, str] = field(default_factory=dict)
    note: str = ""
    drill: str = ""
    drill_count: int | None = None


@dataclass(frozen=True, slots=True)
class FinalMark:
    code: str
    level: int
    proposal: Proposal
    reason: str


@dataclass(frozen=True, slots=True)
class EntryProblem:
    """``field`` names the input at fault: ``level_isolation``, ``note``."""

    field: str
    message: str


def read_entry(data: Mapping[str, object]) -> MarkEntry:
    """An entry from a draft's JSON; raises ScoringInputError whose code is the member at fault."""
    return MarkEntry(
        lines_missed=_codes(data.get("lines_missed")),
        left_count=_count(data, "left_count", "The left eye count"),
        right_count=_count(data, "right_count", "The right eye count"),
        levels={
            code: _level(code, level) for code, level in _mapping(data, "levels").items() if level is not None
        },
        reasons={
            code: _text("reasons", text, MAX_REASON) for code, text in _mapping(data, "reasons").items()
        },
        note=_text("note", data.get("note") or "", MAX_NOTE),
        drill=_text("drill", data.get("drill") or "", MAX_CODE),
        drill_count=_count(data, "drill_count", "The drill's count"),
    )


def as_data(entry: MarkEntry) -> dict[str, object]:
    """The JSON form that ``read_entry`` reads back to an equal entry."""
    return {
        "lines_missed": None if entry.lines_missed is None else list(entry.lines_missed),
        "left_count": entry.left_count,
        "right_count": entry.right_count,
        "levels": dict(entry.levels),
        "reasons": dict(entry.reasons),
        "note": entry.note,
        "drill": entry.drill,
        "drill_count": entry.drill_count,
    }


def final_levels(proposals: Mapping[str, Proposal], entry: MarkEntry) -> dict[str, int]:
    """The level each criterion would get if signed now; criteria without any are absent."""
    levels = {code: proposal.level for code, proposal in proposals.items() if proposal.level is not None}
    return levels | {code: level for code, level in entry.levels.items() if code in proposals}


def resolve(
    criteria: Sequence[CriterionSpec], proposals: Mapping[str, Proposal], entry: MarkEntry
) -> tuple[tuple[FinalMark, ...], tuple[EntryProblem, ...]]:
    """Final marks for signing and what still stands in the way; a gate may not be left without a level."""
    levels = final_levels(proposals, entry)
    problems = [
        problem for spec in criteria for problem in _problems(spec, proposals[spec.code], levels, entry)
    ]
    marks = tuple(
        FinalMark(
            spec.code,
            levels[spec.code],
            proposals[spec.code],
            _reason(spec, proposals[spec.code], levels, entry),
        )
        for spec in criteria
        if spec.code in levels
    )
    return marks, tuple(problems)


def _problems(
    spec: CriterionSpec, proposal: Proposal, levels: Mapping[str, int], entry: MarkEntry
) -> list[EntryProblem]:
    field_name, level = f"level_{spec.code}", levels.get(spec.code)
    reason = entry.reasons.get(spec.code, "").strip()
    if level is None:
        gate = f"{spec.name} is a gate and has no level yet. {proposal.words}"
        return [EntryProblem(field_name, gate)] if spec.is_gate else []
    if proposal.cap is not None and level > proposal.cap and not reason:
        return [EntryProblem(f"reason_{spec.code}", f"{proposal.words} To go higher, give the reason.")]
    if _needs_reason(proposal, level) and not reason:
        return [EntryProblem(f"reason_{spec.code}", f"{spec.name}: {_why_reason(proposal, level)}")]
    return []


def _reason(spec: CriterionSpec, proposal: Proposal, levels: Mapping[str, int], entry: MarkEntry) -> str:
    """What was typed, unless the level stayed as proposed: then nothing was overridden."""
    is_as_proposed = proposal.status == PROPOSED and levels[spec.code] == proposal.level
    return "" if is_as_proposed else entry.reasons.get(spec.code, "").strip()


def _needs_reason(proposal: Proposal, level: int) -> bool:
    if proposal.status == PROPOSED:
        return level != proposal.level
    return proposal.status != "judged"


def _why_reason(proposal: Proposal, level: int) -> str:
    if proposal.level is None:
        return f"level {level} was judged by eye. Give the reason in a few words."
    return f"level {level} differs from the proposed {proposal.level}. Give the reason in a few words."


def _mapping(data: Mapping[str, object], name: str) -> Mapping[str, object]:
    value = data.get(name) or {}
    if not isinstance(value, Mapping):
        raise ScoringInputError(name, f"The {name} cannot be read. Reload the page and enter them again.")
    for code in value:
        _text(name, code, MAX_CODE)
    return value


def _codes(value: object) -> tuple[str, ...] | None:
    if value is None:
        return None
    if not isinstance(value, list | tuple) or not all(isinstance(code, str) for code in value):
        raise ScoringInputError(
            "lines_missed", "The hygiene lines cannot be read. Reload the page and tick again."
        )
    return tuple(_text("lines_missed", code, MAX_CODE) for code in value)


def _count(data: Mapping[str, object], name: str, what: str) -> int | None:
    value = data.get(name)
    if value is None or value == "":
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= MAX_COUNT:
        raise ScoringInputError(name, f"{what} is {value!r}. Enter a whole number from 0 to {MAX_COUNT}.")
    return value


def _level(code: str, value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 4:
        raise ScoringInputError("levels", f"{code} has level {value!r}. Choose a level from 0 to 4.")
    return value


def _text(name: str, value: object, limit: int) -> str:
    if not isinstance(value, str):
        raise ScoringInputError(name, f"The {name} is not text. Type it again.")
    if "\0" in value or value.encode(errors="ignore").decode() != value:  # a database keeps neither
        raise ScoringInputError(name, f"The {name} holds a character that cannot be kept. Type it again.")
    if len(value) > limit:
        raise ScoringInputError(name, f"The {name} has {len(value)} characters. Shorten it to {limit}.")
    return value
