"""Competence rules as programme data: read with clear errors, and the presets an owner can choose from."""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from math import isfinite
from typing import Any

from assessments.scoring.characteristics import clean_sets_left, threshold_for
from assessments.scoring.competence_rules import (
    CompetenceInputError,
    CompetenceRule,
    FanSequential,
    LearningCusum,
    RunOfPasses,
    WaldTest,
)
from assessments.scoring.lapse import LapseWatch
from assessments.scoring.mastery import MasteryConditions

rule_kinds: dict[str, str] = {
    "learning_cusum": "Learning-curve sum",
    "wald": "Wald's test",
    "run": "Passes in a row",
    "fans": "Fault counts, fan by fan",
}

PRESETS: Mapping[str, Mapping[str, object]] = {
    "short_course": {
        "name": "Short course",
        "rule": {
            "kind": "learning_cusum",
            "acceptable_rate": 0.10,
            "inadequate_rate": 0.50,
            "threshold": 4.0,
            "horizon": 20,
        },
        "watch": {"acceptable_rate": 0.10, "inadequate_rate": 0.50, "threshold": 3.5, "horizon": 20},
    },
    "long_course": {
        "name": "Long course",
        "rule": {
            "kind": "learning_cusum",
            "acceptable_rate": 0.10,
            "inadequate_rate": 0.30,
            "threshold": 3.77,
            "horizon": 40,
        },
        "watch": {"acceptable_rate": 0.10, "inadequate_rate": 0.30, "threshold": 3.0, "horizon": 40},
    },
    "test_out": {
        "name": "Test-out for a stable candidate",
        "rule": {
            "kind": "wald",
            "acceptable_rate": 0.10,
            "inadequate_rate": 0.30,
            "refuse_risk": 0.10,
            "declare_risk": 0.05,
            "horizon": 40,
        },
        "watch": {"acceptable_rate": 0.10, "inadequate_rate": 0.30, "threshold": 3.0, "horizon": 40},
    },
    "seven_in_a_row": {
        "name": "Seven in a row",
        "rule": {
            "kind": "run",
            "length": 7,
            "acceptable_rate": 0.10,
            "inadequate_rate": 0.50,
            "horizon": 20,
        },
        "watch": {"acceptable_rate": 0.10, "inadequate_rate": 0.50, "threshold": 3.5, "horizon": 20},
    },
    "fan_counts": {
        "name": "Fault counts on a gate fault",
        "rule": {
            "kind": "fans",
            "acceptable_rate": 0.02,
            "inadequate_rate": 0.10,
            "refuse_risk": 0.10,
            "declare_risk": 0.05,
            "rho": 0.05,
            "inspected": 40,
            "horizon": 20,
        },
        "watch": {"acceptable_rate": 0.10, "inadequate_rate": 0.50, "threshold": 3.5, "horizon": 20},
    },
}

# Shown beside the presets so an owner sees why it is not one: most who are not ready pass within 20 sets.
THREE_IN_A_ROW: Mapping[str, object] = {
    "kind": "run",
    "length": 3,
    "acceptable_rate": 0.10,
    "inadequate_rate": 0.50,
    "horizon": 20,
}

_RULES: Mapping[str, type[CompetenceRule]] = {
    "learning_cusum": LearningCusum,
    "wald": WaldTest,
    "run": RunOfPasses,
    "fans": FanSequential,
}
_WHOLE = {"horizon", "length", "inspected", "sets", "days", "level", "faults_allowed", "blind_marks"}


@dataclass(frozen=True, slots=True)
class ProgrammeRule:
    """How a programme declares a gate skill competent and watches it afterwards."""

    name: str
    rule: CompetenceRule
    watch: LapseWatch | None


def parse_programme(data: Mapping[str, object]) -> ProgrammeRule:
    """Read `{"name", "rule", "watch"}`; raises CompetenceInputError, whose `field` says where."""
    rule, watch, name = data.get("rule"), data.get("watch"), data.get("name", "")
    if not isinstance(rule, Mapping):
        raise CompetenceInputError("no_rule", "The programme has no competence rule. Choose one.", "rule")
    if watch is not None and not isinstance(watch, Mapping):
        raise CompetenceInputError(
            "bad_watch", "The watch after a declaration is unreadable. Set it.", "watch"
        )
    return ProgrammeRule(str(name), parse_rule(rule), None if watch is None else parse_watch(watch))


def parse_rule(data: Mapping[str, object]) -> CompetenceRule:
    """Read one rule; a learning-curve sum may give a `risk` in place of its `threshold`.

    Raises CompetenceInputError, also for a rule that could not decide within its own horizon.
    """
    kind = data.get("kind")
    if kind not in _RULES:
        raise CompetenceInputError(
            "unknown_kind", f'There is no rule "{kind}". Choose one of {", ".join(rule_kinds)}.', "kind"
        )
    entries = {name: value for name, value in data.items() if name != "kind"}
    if kind == "learning_cusum" and "risk" in entries:
        entries = _with_threshold(entries)
    rule = _RULES[str(kind)](**_read(_RULES[str(kind)], rule_kinds[str(kind)], entries))
    earliest = clean_sets_left(rule)
    if earliest is None or earliest > rule.horizon:
        raise CompetenceInputError(
            "never_decides",
            f"This rule needs {earliest or 'more than 1000'} clean sets but looks at {rule.horizon}. "
            "Lengthen the horizon or accept a larger risk.",
            "horizon",
        )
    return rule


def parse_watch(data: Mapping[str, object]) -> LapseWatch:
    return LapseWatch(**_read(LapseWatch, "Watch", data))


def parse_mastery(data: Mapping[str, object]) -> MasteryConditions:
    """Read mastery conditions; what is left out keeps its default."""
    return MasteryConditions(**_read(MasteryConditions, "Mastery", data))


def _with_threshold(entries: Mapping[str, object]) -> dict[str, object]:
    if "threshold" in entries:
        raise CompetenceInputError(
            "risk_and_threshold", "Give either the risk or the threshold, not both.", "risk"
        )
    risk = _number("Learning-curve sum", "risk", entries["risk"])
    if not 0 < risk < 0.5:
        raise CompetenceInputError(
            "risk_out_of_range", "Give a risk of more than 0 and less than 50 %.", "risk"
        )
    rest = {name: value for name, value in entries.items() if name != "risk"}
    draft = LearningCusum(**_read(LearningCusum, "Learning-curve sum", {**rest, "threshold": 1.0}))
    rest["threshold"] = threshold_for(draft.acceptable_rate, draft.inadequate_rate, draft.horizon, risk)
    return rest


def _read(
    shape: type[CompetenceRule] | type[MasteryConditions], title: str, data: Mapping[str, object]
) -> dict[str, Any]:
    known = {field.name: field for field in fields(shape)}
    for name in data:
        if name not in known:
            raise CompetenceInputError(
                "unknown_field", f'{title}: "{name}" is not known here. Remove it, or correct it.', name
            )
    for name, field in known.items():
        if name not in data and field.default is MISSING:
            raise CompetenceInputError("missing_field", f'{title}: "{name}" is missing. Add it.', name)
    return {name: _whole_or_number(title, name, value) for name, value in data.items()}


def _whole_or_number(title: str, name: str, value: object) -> float:
    number = _number(title, name, value)
    if name not in _WHOLE:
        return number
    if number != int(number):
        raise CompetenceInputError(
            "not_a_whole_number", f'{title}: "{name}" is {number:g}. Give a whole number.', name
        )
    return int(number)


def _number(title: str, name: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise CompetenceInputError("not_a_number", f'{title}: "{name}" must be a number.', name)
    return value
