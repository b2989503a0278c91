"""What is known about one student on the way to the gate and the certificate."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from assessments.scoring.mastery import MasteryConditions, MasterySet


@dataclass(frozen=True, slots=True)
class Evidence:
    """One row that a condition rests on: `kind` and `key` find it, `row` changes when it is replaced."""

    kind: str
    key: str
    words: str
    row: str = ""


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition: `words` how it stands, `way` the shortest way there, empty when it is met.

    `lines` says more, where one sentence does not do.
    """

    code: str
    name: str
    met: bool
    words: str
    way: str = ""
    evidence: tuple[Evidence, ...] = ()
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class UnitFact:
    """One unit of the programme; `passed` None: not signed off yet. `row`: the sign-off that counts."""

    code: str
    title: str
    before_live: bool
    passed: bool | None = None
    words: str = ""
    row: str = ""


@dataclass(frozen=True, slots=True)
class HoursFact:
    """Minutes by where they come from: entered theory and practical, and the clock of practice sets."""

    theory: int = 0
    practical: int = 0
    clock: int = 0
    asked_theory: float | None = None
    asked_practical: float | None = None


@dataclass(frozen=True, slots=True)
class SetFact:
    """One graded set: `grade` names the marks that count, `missed` the hygiene lines not signed.

    `missed` None: the lines were not looked at. `lines`: how many the rubric asks for.
    """

    uid: str
    number: int
    on: date
    graded_at: datetime
    grade: str
    worked_minutes: int = 0
    lines: int = 0
    missed: tuple[str, ...] | None = None

    @property
    def is_clean(self) -> bool:
        return self.lines > 0 and self.missed == ()


@dataclass(frozen=True, slots=True)
class SkillFact:
    """The decision on one gate skill; `sets_left`: clean sets to a declaration at the least."""

    code: str
    name: str
    competent: bool
    words: str
    row: str = ""
    sets_left: int | None = None


@dataclass(frozen=True, slots=True)
class MasteryFact:
    """The sets that mastery is judged on, oldest first, each beside its facts.

    `blind_waiting`: numbers of sets whose blind second mark is still to come.
    """

    history: Sequence[MasterySet]
    sets: Sequence[SetFact]
    conditions: MasteryConditions
    blind_waiting: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class ConsentFact:
    """The newest answer to one purpose; `on` None: never answered."""

    name: str
    given: bool = False
    on: date | None = None
    row: str = ""


@dataclass(frozen=True, slots=True)
class LevelFact:
    """Where one skill stands, 0 to 4; None before the first mark."""

    name: str
    level: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadinessFacts:
    """`sets`: every graded set, oldest first; `graded`: how many of them belong to this programme.

    `openings`: how often the gate has opened on this programme.
    """

    units: Sequence[UnitFact]
    hours: HoursFact
    sets: Sequence[SetFact]
    graded: int
    skills: Sequence[SkillFact]
    mastery: MasteryFact
    consents: Mapping[str, ConsentFact]
    levels: Mapping[str, LevelFact]
    openings: int
    now: datetime
    left_on: date | None = None


def day(on: date) -> str:
    return f"{on.day} {on:%B %Y}"


def set_evidence(found: SetFact, words: str = "") -> Evidence:
    told = f"Set {found.number}, {day(found.on)}"
    return Evidence("set", found.uid, f"{told}: {words}" if words else told, found.grade)
