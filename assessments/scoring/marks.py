"""From the confirmed levels of one set to its score, its gates and whether time earns credit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum, isfinite

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.rules import TOP_LEVEL

TIMED = "timed"
CREDIT_MIN = 2


@dataclass(frozen=True, slots=True)
class CriterionSpec:
    """One line of a rubric. Below level 2 a `blocks_time` criterion takes the time credit away."""

    code: str
    name: str
    skill: str
    kind: str
    weight: float
    is_gate: bool
    gate_min: int = 2
    blocks_time: bool = False

    def __post_init__(self) -> None:
        if not isfinite(self.weight) or self.weight < 0:
            raise ScoringInputError(
                "bad_weight", f"The weight of {self.name} is {self.weight:g}. Give 0 or a positive number."
            )
        _check_level(f"The gate level of {self.name}", self.gate_min)


@dataclass(frozen=True, slots=True)
class GateFinding:
    code: str
    name: str
    level: int | None
    needed: int
    passed: bool
    words: str


@dataclass(frozen=True, slots=True)
class SetResult:
    """The score, 0..100, stands beside the gates and never instead of them; None with nothing marked."""

    score: float | None
    gates: tuple[GateFinding, ...]
    gates_passed: bool
    time_credit: bool
    time_words: str  # whether time counts, as far as it is known; empty on a rubric without time
    words: tuple[str, ...]


def set_result(criteria: Sequence[CriterionSpec], levels: Mapping[str, int]) -> SetResult:
    """Score and gates of one set; a criterion without a level is left out, never read as level 0.

    Raises ScoringInputError: `unknown_criterion`, `level_out_of_range`.
    """
    _check_levels(criteria, levels)
    gates = tuple(_gate(spec, levels.get(spec.code)) for spec in criteria if spec.is_gate)
    blockers = [
        spec for spec in criteria if spec.blocks_time and levels.get(spec.code, TOP_LEVEL) < CREDIT_MIN
    ]
    return SetResult(
        score=_score(criteria, levels, time_credit=not blockers),
        gates=gates,
        gates_passed=all(gate.passed for gate in gates),
        time_credit=not blockers,
        time_words=_time_words(criteria, blockers, levels),
        words=(
            *(gate.words for gate in gates if not gate.passed),
            *_why_no_credit(criteria, blockers, levels),
            *_missing_words(criteria, levels),
        ),
    )


def _score(
    criteria: Sequence[CriterionSpec], levels: Mapping[str, int], *, time_credit: bool
) -> float | None:
    marked = [spec for spec in criteria if spec.code in levels]
    weight = fsum(spec.weight for spec in marked)
    if not weight:
        return None
    credited = [spec for spec in marked if time_credit or spec.kind != TIMED]
    earned = fsum(spec.weight * levels[spec.code] for spec in credited)
    return 100 * earned / (TOP_LEVEL * weight)


def _gate(spec: CriterionSpec, level: int | None) -> GateFinding:
    passed = level is not None and level >= spec.gate_min
    found = "no level yet" if level is None else f"level {level}"
    outcome = "gate passed" if passed else "gate not passed"
    words = f"{spec.name}: {found}, needs {spec.gate_min}, {outcome}."
    return GateFinding(spec.code, spec.name, level, spec.gate_min, passed, words)


def _time_words(
    criteria: Sequence[CriterionSpec], blockers: Sequence[CriterionSpec], levels: Mapping[str, int]
) -> str:
    waiting = [_mid_sentence(spec.name) for spec in criteria if spec.blocks_time and spec.code not in levels]
    if not _has_time(criteria):
        return ""
    if blockers:
        return "Time gives no credit."
    return f"Time waits for {' and '.join(waiting)}: not marked yet." if waiting else "Time counts."


def _has_time(criteria: Sequence[CriterionSpec]) -> bool:
    return any(spec.kind == TIMED for spec in criteria)


def _why_no_credit(
    criteria: Sequence[CriterionSpec], blockers: Sequence[CriterionSpec], levels: Mapping[str, int]
) -> tuple[str, ...]:
    if not blockers or not _has_time(criteria):
        return ()
    reasons = " and ".join(f"{_mid_sentence(spec.name)} is at level {levels[spec.code]}" for spec in blockers)
    return (f"Time gives no credit: {reasons}.",)


def _missing_words(criteria: Sequence[CriterionSpec], levels: Mapping[str, int]) -> tuple[str, ...]:
    missing = [spec.name for spec in criteria if spec.code not in levels]
    return (f"Not marked yet, so left out of the score: {', '.join(missing)}.",) if missing else ()


def _mid_sentence(name: str) -> str:
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


def _check_levels(criteria: Sequence[CriterionSpec], levels: Mapping[str, int]) -> None:
    names = {spec.code: spec.name for spec in criteria}
    for code, level in levels.items():
        if code not in names:
            raise ScoringInputError(
                "unknown_criterion",
                f'The rubric of this set has no criterion "{code}". Mark only the criteria it lists.',
            )
        _check_level(names[code], level)


def _check_level(name: str, level: int) -> None:
    if level not in range(TOP_LEVEL + 1):
        raise ScoringInputError(
            "level_out_of_range", f"{name} has level {level}. Choose a level from 0 to 4."
        )
