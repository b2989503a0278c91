"""One version of a programme, and how its rules are written in JSON."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from datetime import date
from decimal import Decimal
from typing import Any

THEORY, PRACTICAL = "theory", "practical"
USUAL_CONSENT = ("assessment_record",)
_HOURS = {"theory_hours", "practical_hours"}


@dataclass(frozen=True, slots=True)
class Unit:
    """``code`` stays with the unit from version to version; a new unit has none yet."""

    title: str
    kind: str
    before_live: bool = False
    code: str = ""


@dataclass(frozen=True, slots=True)
class Gate:
    """What the gate to live models asks for; None and False ask for nothing. Hours are decimal hours."""

    theory_units: bool = True
    theory_hours: Decimal | None = None
    practical_hours: Decimal | None = None
    hygiene_sets: int = 3
    graded_sets: int | None = None
    competence: bool = True
    mastery: bool = True
    blind_mark: bool = True
    consent: tuple[str, ...] = USUAL_CONSENT
    lapse_days: int = 90


@dataclass(frozen=True, slots=True)
class CertificateRules:
    """What the certificate asks for beside the hours of the version. ``min_levels`` by skill code."""

    all_units: bool = True
    gate_open_once: bool = True
    graded_sets: int | None = None
    valid_months: int | None = 24
    scope: str = ""
    min_levels: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ProgrammeContent:
    """Everything a version says. Hours are decimal hours, with where they were read and on which day."""

    units: tuple[Unit, ...]
    theory_hours: Decimal | None = None
    practical_hours: Decimal | None = None
    hours_source: str = ""
    hours_source_on: date | None = None
    gate: Gate = field(default_factory=Gate)
    certificate: CertificateRules = field(default_factory=CertificateRules)


def write_rules(rules: Gate | CertificateRules) -> dict[str, Any]:
    return {name: _plain(value) for name, value in asdict(rules).items()}


def read_gate(written: Mapping[str, Any]) -> Gate:
    """Keys that are missing have their default."""
    known = _known(Gate, written)
    hours = {name: Decimal(str(known[name])) for name in _HOURS & known.keys() if known[name] is not None}
    consent = {"consent": tuple(known["consent"])} if "consent" in known else {}
    return Gate(**{**known, **hours, **consent})


def read_certificate(written: Mapping[str, Any]) -> CertificateRules:
    """Keys that are missing have their default."""
    return CertificateRules(**_known(CertificateRules, written))


def read_unit(written: Mapping[str, Any]) -> Unit:
    return Unit(**_known(Unit, written))


def _known(shape: type[Any], written: Mapping[str, Any]) -> dict[str, Any]:
    return {each.name: written[each.name] for each in fields(shape) if each.name in written}


def _plain(value: object) -> object:
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    if isinstance(value, tuple):
        return list(value)
    return dict(value) if isinstance(value, Mapping) else value
