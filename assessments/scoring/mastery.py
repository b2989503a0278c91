"""The mastery conditions before a live-model gate: each one met or not, with its evidence in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from assessments.scoring.competence_rules import CompetenceInputError
from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.proportions import exact_upper_limit
from assessments.scoring.wording import counted

TOP_LEVEL = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class MasteryConditions:
    """Programme defaults, a proposal and no standard: the last `sets` sets on `days` different days.

    Every criterion at `level` or above, at most `faults_allowed` gate faults for each `inspected` fans and at
    least that many inspected, and `blind_marks` sets also marked blind by another educator.
    """

    sets: int = 3
    days: int = 3
    level: int = 3
    faults_allowed: int = 1
    inspected: int = 120
    blind_marks: int = 1

    def __post_init__(self) -> None:
        for name, low, high in (
            ("sets", 1, 40),
            ("days", 1, self.sets),
            ("level", 0, TOP_LEVEL),
            ("inspected", 1, 4000),
            ("faults_allowed", 0, self.inspected),
            ("blind_marks", 0, self.sets),
        ):
            if not low <= getattr(self, name) <= high:
                raise CompetenceInputError(
                    f"{name}_out_of_range",
                    f'Mastery: "{name}" is {getattr(self, name)}. Give {low} to {high}.',
                    name,
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterySet:
    """One graded set; `levels` by the name of the criterion, None where no mark was given.

    `gates_passed` is None while a gate line is unmarked. `faults`: fans with the gate fault. `educator`
    signed the marks; `blind_by` are those who marked the set without seeing them.
    """

    day: date
    gates_passed: bool | None
    levels: Mapping[str, int | None]
    faults: int
    inspected: int
    educator: int
    blind_by: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        if not 0 <= self.faults <= self.inspected:
            raise ScoringInputError(
                "faults_exceed_inspected",
                f"{self.faults} faults recorded with {self.inspected} fans inspected. Check the ticks.",
            )


@dataclass(frozen=True, slots=True)
class MasteryLine:
    code: str
    met: bool
    words: str


@dataclass(frozen=True, slots=True)
class Mastery:
    met: bool
    words: str
    lines: tuple[MasteryLine, ...]


def check_mastery(
    history: Sequence[MasterySet], conditions: MasteryConditions, *, fault: str = "a sticky"
) -> Mastery:
    """Check the last sets, oldest first; a failed gate counts until enough sets have passed after it.

    `fault` names one of what is counted. Fewer sets than asked for is a condition not met, never an error.
    """
    last = history[-conditions.sets :]
    lines = (
        _sets_line(last, conditions),
        _days_line(last, conditions),
        _gates_line(last, conditions),
        _levels_line(last, conditions),
        _faults_line(last, conditions, fault),
        _blind_line(last, conditions),
    )
    missing = sum(not line.met for line in lines)
    words = (
        f"All mastery conditions met on the last {counted(conditions.sets, 'set')}."
        if not missing
        else f"{missing} of {len(lines)} mastery conditions not met yet."
    )
    return Mastery(not missing, words, lines)


def _sets_line(last: Sequence[MasterySet], asked: MasteryConditions) -> MasteryLine:
    words = f"{counted(len(last), 'graded set')} of the {asked.sets} asked for."
    return MasteryLine("sets", len(last) == asked.sets, words)


def _days_line(last: Sequence[MasterySet], asked: MasteryConditions) -> MasteryLine:
    days = len({each.day for each in last})
    return MasteryLine("days", days >= asked.days, f"On {counted(days, 'day')}; {asked.days} asked for.")


def _gates_line(last: Sequence[MasterySet], asked: MasteryConditions) -> MasteryLine:
    good = 0
    for each in reversed(last):
        if not each.gates_passed:
            reason = "a gate is not marked" if each.gates_passed is None else "a gate failed"
            words = f"On {_day(each.day)} {reason}; {good} of {asked.sets} passed since."
            return MasteryLine("gates", False, words)
        good += 1
    words = f"All gates passed in {good} of {asked.sets} sets."
    return MasteryLine("gates", good == asked.sets, words)


def _levels_line(last: Sequence[MasterySet], asked: MasteryConditions) -> MasteryLine:
    below = [words for each in last if (words := _below(each, asked.level))]
    if below:
        return MasteryLine("levels", False, f"Below level {asked.level}: {'; '.join(below)}.")
    if len(last) < asked.sets:
        words = f"{counted(len(last), 'set')} with every criterion at level {asked.level} or above so far."
        return MasteryLine("levels", False, words)
    return MasteryLine("levels", True, f"Every criterion at level {asked.level} or above.")


def _below(each: MasterySet, level: int) -> str:
    """What stays below in one set, empty for nothing."""
    if not each.levels:
        return f"on {_day(each.day)} no marks"
    short = [
        f"{name} {'without a mark' if found is None else found}"
        for name, found in each.levels.items()
        if found is None or found < level
    ]
    return f"on {_day(each.day)} {', '.join(short)}" if short else ""


def _faults_line(last: Sequence[MasterySet], asked: MasteryConditions, fault: str) -> MasteryLine:
    faults, inspected = sum(each.faults for each in last), sum(each.inspected for each in last)
    if inspected == 0:
        return MasteryLine("faults", False, f"No fans inspected yet; {asked.inspected} asked for.")
    allowed = asked.faults_allowed * inspected // asked.inspected
    high = 100 * exact_upper_limit(faults, inspected, confidence=0.95)
    words = (
        f"{faults} of {inspected} fans with {fault}; {asked.faults_allowed} in {asked.inspected} allowed. "
        f"The true rate is at most {high:.2f} % (one-sided 95 % limit)."
    )
    return MasteryLine("faults", inspected >= asked.inspected and faults <= allowed, words)


def _blind_line(last: Sequence[MasterySet], asked: MasteryConditions) -> MasteryLine:
    blind = sum(bool(each.blind_by - {each.educator}) for each in last)
    words = f"{counted(blind, 'set')} also marked blind by another educator; {asked.blind_marks} asked for."
    return MasteryLine("blind", blind >= asked.blind_marks, words)


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
