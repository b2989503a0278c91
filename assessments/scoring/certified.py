"""What a certificate certifies, frozen at issue: read back years later as it was written."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from math import floor
from typing import Any

WORDING = 1  # of the sentences on certificates; a certificate keeps the version it was issued with
TOP_LEVEL = 4


@dataclass(frozen=True, slots=True)
class CertifiedSkill:
    """Where the holder stood in one skill at issue: level 0 to 4, to a tenth, with its 90 % interval."""

    code: str
    name: str
    is_gate: bool
    level: float
    level_word: str
    low: float
    high: float
    sets: int
    descriptors: tuple[str, ...] = ()  # of levels 0 to 4, in the words of the rubric
    required: int | None = None

    @property
    def reached(self) -> int:
        """The whole level that is reached: 2.9 has not reached 3."""
        return min(TOP_LEVEL, max(0, floor(self.level)))


@dataclass(frozen=True, slots=True)
class CertifiedCondition:
    """A condition of the programme that was met, and by what."""

    name: str
    words: str


@dataclass(frozen=True, slots=True)
class Certified:
    """Minutes are credited hours; ``marks``: keys of the signed marks that ``skills`` rest on.

    ``awarded_at``: of the first issue; a reissue under another name keeps it.
    """

    school: str
    town: str
    holder: str
    programme: str
    programme_version: int
    scope: str
    theory_minutes: int
    practical_minutes: int
    sets: int
    first_set_on: date | None
    last_set_on: date | None
    educator: str
    rubric_versions: tuple[str, ...]
    parameter_version: int | None
    skills: tuple[CertifiedSkill, ...]
    marks: tuple[int, ...]
    conditions: tuple[CertifiedCondition, ...]
    gate_opened_on: date | None
    awarded_at: datetime
    wording_version: int = WORDING

    def renamed(self, holder: str) -> "Certified":
        """The same for somebody who bears another name now."""
        return replace(self, holder=holder)


def content_of(certified: Certified) -> dict[str, Any]:
    """As JSON keeps it; ``certified_of`` reads it back."""
    plain = asdict(certified)
    plain["skills"] = [{**row, "descriptors": list(row["descriptors"])} for row in plain["skills"]]
    return {name: _plain(value) for name, value in plain.items()}


def certified_of(content: Mapping[str, Any]) -> Certified:
    return Certified(
        **{
            **content,
            "first_set_on": _day(content["first_set_on"]),
            "last_set_on": _day(content["last_set_on"]),
            "gate_opened_on": _day(content["gate_opened_on"]),
            "awarded_at": datetime.fromisoformat(content["awarded_at"]),
            "rubric_versions": tuple(content["rubric_versions"]),
            "skills": tuple(_skill(row) for row in content["skills"]),
            "marks": tuple(content["marks"]),
            "conditions": tuple(CertifiedCondition(**row) for row in content["conditions"]),
        }
    )


def plain_words(certified: Certified) -> list[str]:
    """What the certificate says, in sentences for its holder."""
    hours = f"{hours_words(certified.theory_minutes)} of theory"
    sentences = [
        f"{certified.school} certifies that {certified.holder} completed {certified.programme}.",
        f"{certified.scope}" if certified.scope else "",
        f"Credited: {hours} and {hours_words(certified.practical_minutes)} of practice, "
        f"with {counted(certified.sets, 'graded practice set')}{_between(certified)}.",
        f"The gate to live models was opened on {_told(certified.gate_opened_on)} "
        "by two signatures, the student's and the educator's."
        if certified.gate_opened_on
        else "",
        "It is a training certificate, not a licence: local law decides who may work on clients.",
    ]
    return [sentence for sentence in sentences if sentence]


def hours_words(minutes: int) -> str:
    """Hours and minutes: ``41 h 30 min``."""
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest:02d} min" if rest else f"{hours} h"


def counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _between(certified: Certified) -> str:
    first, last = certified.first_set_on, certified.last_set_on
    if first is None or last is None:
        return ""
    return f" on {_told(first)}" if first == last else f" from {_told(first)} to {_told(last)}"


def _told(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else value


def _skill(row: Mapping[str, Any]) -> CertifiedSkill:
    return CertifiedSkill(**{**row, "descriptors": tuple(row["descriptors"])})


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)
