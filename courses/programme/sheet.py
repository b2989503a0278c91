"""A version of a programme in words, line by line."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from courses.programme.content import CertificateRules, Gate, ProgrammeContent, Unit

NOT_ASKED = "not asked"
NOT_SET = "not entered yet"


@dataclass(frozen=True, slots=True)
class Names:
    """What codes are called on screens: purposes of consent and skills."""

    purposes: Mapping[str, str] = field(default_factory=dict)
    skills: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Line:
    key: str
    label: str
    words: str


def hours_words(hours: Decimal) -> str:
    """``8 h``, ``8.5 h``."""
    whole = hours == hours.to_integral_value()
    return f"{int(hours)} h" if whole else f"{hours.normalize():f} h"


def day_words(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def unit_words(unit: Unit) -> str:
    return f"{unit.title} ({unit.kind}{', before live models' if unit.before_live else ''})"


def hours_lines(content: ProgrammeContent) -> tuple[Line, ...]:
    read_on = f", last checked on {day_words(content.hours_source_on)}" if content.hours_source_on else ""
    return (
        Line("theory_hours", "Theory hours", _hours(content.theory_hours, NOT_SET)),
        Line("practical_hours", "Practical hours", _hours(content.practical_hours, NOT_SET)),
        Line("hours_source", "Where these hours come from", f"{content.hours_source or NOT_SET}{read_on}"),
    )


def gate_lines(gate: Gate, names: Names) -> tuple[Line, ...]:
    consents = [names.purposes.get(code, code) for code in gate.consent]
    return (
        Line("theory_units", "Units before live models", _asked(gate.theory_units, "every one signed off")),
        Line("gate_theory_hours", "Theory hours before the gate", _hours(gate.theory_hours)),
        Line("gate_practical_hours", "Practical hours before the gate", _hours(gate.practical_hours)),
        Line("hygiene_sets", "Hygiene lines", f"all signed in the last {_count(gate.hygiene_sets, 'set')}"),
        Line("gate_graded_sets", "Graded sets before the gate", _at_least(gate.graded_sets)),
        Line("competence", "Gate skills", _asked(gate.competence, "every one declared competent")),
        Line("mastery", "Mastery conditions", _asked(gate.mastery, "met")),
        Line("blind_mark", "Blind second mark", _asked(gate.blind_mark, "at least one")),
        Line("consent", "Consent", _list(consents)),
        Line(
            "lapse_days",
            "The gate closes again",
            f"after {_count(gate.lapse_days, 'day')} without a graded set",
        ),
    )


def certificate_lines(rules: CertificateRules, names: Names) -> tuple[Line, ...]:
    levels = [f"{names.skills.get(code, code)} {level}" for code, level in rules.min_levels.items()]
    months = rules.valid_months
    return (
        Line("all_units", "Units for the certificate", _asked(rules.all_units, "every one signed off")),
        Line("gate_open_once", "Gate to live models", _asked(rules.gate_open_once, "opened at least once")),
        Line("graded_sets", "Graded sets for the certificate", _at_least(rules.graded_sets)),
        Line("min_levels", "Least level of a skill", _list(levels)),
        Line(
            "valid_months",
            "The certificate holds",
            f"for {_count(months, 'month')}" if months else "without an end",
        ),
        Line("scope", "What it covers", rules.scope or NOT_SET),
    )


def all_lines(content: ProgrammeContent, names: Names) -> tuple[Line, ...]:
    """Everything but the units."""
    return (
        *hours_lines(content),
        *gate_lines(content.gate, names),
        *certificate_lines(content.certificate, names),
    )


def _hours(hours: Decimal | None, otherwise: str = NOT_ASKED) -> str:
    return otherwise if hours is None else hours_words(hours)


def _asked(asked: bool, words: str) -> str:
    return words if asked else NOT_ASKED


def _at_least(count: int | None) -> str:
    return NOT_ASKED if count is None else f"at least {count}"


def _count(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _list(words: list[str]) -> str:
    return ", ".join(words) or NOT_ASKED
