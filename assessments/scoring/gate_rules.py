"""What a programme version asks before a live model and before a certificate, read from its data."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from assessments.scoring.evidence import ScoringInputError

MOST_HOURS = 9999
MOST_SETS = 400
TOP_LEVEL = 4
RECORD_CONSENT = "assessment_record"


class GateRuleError(ScoringInputError):
    """A rule in the programme cannot be read; `field` names it."""

    def __init__(self, code: str, message: str, field: str) -> None:
        super().__init__(code, message)
        self.field = field


@dataclass(frozen=True, slots=True, kw_only=True)
class GateRules:
    """The conditions of the gate; defaults are a proposal and no standard. None or False asks for nothing.

    Hours are decimal hours, `hygiene_sets` the last sets that must have every hygiene line signed, and
    `lapse_days` how long the gate stays open without a graded set.
    """

    theory_units: bool = True
    theory_hours: float | None = None
    practical_hours: float | None = None
    hygiene_sets: int = 3
    graded_sets: int | None = None
    competence: bool = True
    mastery: bool = True
    blind_mark: bool = True
    consent: tuple[str, ...] = (RECORD_CONSENT,)
    lapse_days: int = 90


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateRules:
    """The conditions of the certificate beside the hours of the version; `min_levels` by skill code.

    `valid_months` None: it does not expire. `scope`: what it covers, in one sentence.
    """

    all_units: bool = True
    gate_open_once: bool = True
    graded_sets: int | None = None
    valid_months: int | None = 24
    scope: str = ""
    min_levels: Mapping[str, float] | None = None


Reader = Callable[[str, object], Any]


def parse_gate(data: Mapping[str, object]) -> GateRules:
    """What is left out keeps its default; raises GateRuleError for what cannot be."""
    return GateRules(**_read("Gate", data, _GATE))


def parse_certificate_rules(data: Mapping[str, object]) -> CertificateRules:
    """What is left out keeps its default; raises GateRuleError for what cannot be."""
    return CertificateRules(**_read("Certificate", data, _CERTIFICATE))


def _read(title: str, data: Mapping[str, object], readers: Mapping[str, Reader]) -> dict[str, Any]:
    for name in data:
        if name not in readers:
            raise GateRuleError(
                "unknown_rule", f'{title}: "{name}" is not known here. Remove it, or correct it.', name
            )
    return {name: readers[name](f'{title}: "{name}"', value) for name, value in data.items()}


def _error(code: str, message: str, title: str) -> GateRuleError:
    return GateRuleError(code, f"{title} {message}", title.split('"')[1])


def _yes_or_no(title: str, value: object) -> bool:
    if not isinstance(value, bool):
        raise _error("not_yes_or_no", "must be true or false.", title)
    return value


def _number(low: float, high: float, *, whole: bool) -> Reader:
    def read(title: str, value: object) -> float:
        if isinstance(value, str):  # decimals are kept as text, so that no digit is lost
            value = _decimal(value)
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
            raise _error("not_a_number", "must be a number.", title)
        if not low <= value <= high:
            raise _error("out_of_range", f"is {value:g}. Give {low:g} to {high:g}.", title)
        if whole and value != int(value):
            raise _error("not_a_whole_number", f"is {value:g}. Give a whole number.", title)
        return int(value) if whole else float(value)

    return read


def _decimal(text: str) -> object:
    try:
        return float(text)
    except ValueError:
        return text


def _optional(reader: Reader) -> Reader:
    return lambda title, value: None if value is None else reader(title, value)


def _purposes(title: str, value: object) -> tuple[str, ...]:
    if not isinstance(value, list | tuple) or not all(isinstance(each, str) and each for each in value):
        raise _error("not_a_list", "must be a list of consents.", title)
    return tuple(dict.fromkeys(value))


def _sentence(title: str, value: object) -> str:
    if not isinstance(value, str):
        raise _error("not_words", "must be a sentence.", title)
    return value.strip()


def _levels(title: str, value: object) -> Mapping[str, float] | None:
    if value is None:
        return None
    if not isinstance(value, Mapping):
        raise _error("not_levels", "must give a level for each skill it names.", title)
    level = _number(0, TOP_LEVEL, whole=False)
    return {str(skill): level(title, wanted) for skill, wanted in value.items()}


_HOURS = _optional(_number(0, MOST_HOURS, whole=False))
_SETS = _optional(_number(0, MOST_SETS, whole=True))
_GATE: Mapping[str, Reader] = {
    "theory_units": _yes_or_no,
    "theory_hours": _HOURS,
    "practical_hours": _HOURS,
    "hygiene_sets": _number(0, 40, whole=True),
    "graded_sets": _SETS,
    "competence": _yes_or_no,
    "mastery": _yes_or_no,
    "blind_mark": _yes_or_no,
    "consent": _purposes,
    "lapse_days": _number(1, 3660, whole=True),
}
_CERTIFICATE: Mapping[str, Reader] = {
    "all_units": _yes_or_no,
    "gate_open_once": _yes_or_no,
    "graded_sets": _SETS,
    "valid_months": _optional(_number(1, 600, whole=True)),
    "scope": _sentence,
    "min_levels": _levels,
}
