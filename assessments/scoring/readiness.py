"""Every condition of the live-model gate and of the certificate, judged from the facts alone."""

from collections.abc import Iterable, Iterator
from hashlib import sha256

from assessments.scoring import gate_conditions as condition
from assessments.scoring.gate_rules import CertificateRules, GateRules
from assessments.scoring.readiness_facts import Condition, ReadinessFacts


def judge_gate(facts: ReadinessFacts, rules: GateRules) -> tuple[Condition, ...]:
    """What the programme asks before a live model; a rule that asks for nothing leaves no condition."""
    return tuple(_gate(facts, rules))


def judge_certificate(facts: ReadinessFacts, rules: CertificateRules) -> tuple[Condition, ...]:
    """What the programme asks before a certificate; hours are those of the programme version."""
    return tuple(_certificate(facts, rules))


def is_met(conditions: Iterable[Condition]) -> bool:
    """Whether every condition is met; no condition at all is nothing to be ready for."""
    found = list(conditions)
    return bool(found) and all(each.met for each in found)


def basis_of(conditions: Iterable[Condition], version: int) -> str:
    """A digest of the rows that the conditions rest on under a programme version.

    Hours only grow or are corrected, and whether they are enough is asked again at each signature, so they do
    not enter: logging another hour does not undo a signature.
    """
    rows = [
        f"{each.code}/{row.kind}/{row.key}/{row.row}"
        for each in conditions
        for row in each.evidence
        if row.row
    ]
    return sha256("\n".join([f"version {version}", *rows]).encode()).hexdigest()


def _gate(facts: ReadinessFacts, rules: GateRules) -> Iterator[Condition]:
    if facts.left_on:
        yield condition.left(facts.left_on)
    yield from _course(facts, rules)
    yield from _craft(facts, rules)
    for purpose in rules.consent:
        yield condition.consent(purpose, facts.consents.get(purpose))
    yield condition.recent(facts.sets, rules.lapse_days, facts.now)


def _course(facts: ReadinessFacts, rules: GateRules) -> Iterator[Condition]:
    """What has been attended and signed off."""
    if rules.theory_units:
        before = [unit for unit in facts.units if unit.before_live]
        yield condition.units(before, "units", "Units before a live model")
    if rules.theory_hours:
        yield condition.theory_hours(facts.hours, rules.theory_hours)
    if rules.practical_hours:
        yield condition.practical_hours(facts.hours, facts.sets, rules.practical_hours)


def _craft(facts: ReadinessFacts, rules: GateRules) -> Iterator[Condition]:
    """What the practice sets show."""
    if rules.graded_sets:
        yield condition.graded_sets(facts.graded, rules.graded_sets)
    if rules.hygiene_sets:
        yield condition.hygiene(facts.sets, rules.hygiene_sets)
    if rules.competence:
        yield condition.competence(facts.skills)
    if rules.mastery:
        yield condition.mastery(facts.mastery)
    if rules.blind_mark:
        yield condition.blind_mark(facts.mastery)


def _certificate(facts: ReadinessFacts, rules: CertificateRules) -> Iterator[Condition]:
    if facts.left_on:
        yield condition.left(facts.left_on)
    if rules.all_units:
        yield condition.units(facts.units, "all_units", "Units")
    if facts.hours.asked_theory:
        yield condition.theory_hours(facts.hours, facts.hours.asked_theory)
    if facts.hours.asked_practical:
        yield condition.practical_hours(facts.hours, facts.sets, facts.hours.asked_practical)
    if rules.gate_open_once:
        yield condition.gate_opened(facts.openings)
    if rules.graded_sets:
        yield condition.graded_sets(facts.graded, rules.graded_sets)
    for skill, asked in (rules.min_levels or {}).items():
        yield condition.level(skill, facts.levels.get(skill), asked)
