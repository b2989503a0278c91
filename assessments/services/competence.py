from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from academy.errors import DomainError
from academy.jobs import enqueue
from academy.models import Academy, Membership
from academy.read_once import read_anew
from academy.selectors.people import students
from academy.services.audit import record
from assessments.models import CompetenceDecision, CompetenceRule, CompetenceStanding, Mark, MasteryRule
from assessments.scoring.competence_rules import CompetenceInputError
from assessments.scoring.corrections import Correction
from assessments.scoring.programme_rules import parse_mastery, parse_programme
from assessments.selectors.competence import SkillCompetence, graded_sets, skill_competence
from assessments.selectors.competence_rules import SkillRules, mastery_rule, rule_versions, skill_rules
from assessments.selectors.corrections import correction_of
from assessments.services.gate import marks_changed
from courses.models import Skill


class RuleCannotBe(DomainError):
    """The programme data make no rule; ``field`` names the entry to correct."""

    def __init__(self, error: CompetenceInputError) -> None:
        super().__init__(error.code, error.message, field=error.field)


def ensure_rules(*, academy: Academy, now: datetime) -> list[SkillRules]:
    """Save the default for every gate skill without a rule, and the mastery conditions; gives the rules."""
    found = skill_rules(academy)
    missing = [rules.newest for rules in found if rules.newest._state.adding]
    for rule in missing:
        rule.made_at = now
    CompetenceRule.objects.bulk_create(missing, ignore_conflicts=True)
    mastery = mastery_rule(academy)
    if mastery._state.adding:
        mastery.made_at = now
        MasteryRule.objects.bulk_create([mastery], ignore_conflicts=True)
    if not missing:
        return found
    read_anew()
    return skill_rules(academy)


@transaction.atomic
def change_rule(
    *, academy: Academy, skill: Skill, programme: Mapping[str, Any], actor: Membership, now: datetime
) -> CompetenceRule:
    """A new version, in force from now on; what was declared stays declared. The same data change nothing."""
    try:
        parse_programme(programme)
    except CompetenceInputError as error:
        raise RuleCannotBe(error) from error
    ensure_rules(academy=academy, now=now)
    Academy.objects.select_for_update().get(pk=academy.pk)  # two changes at once get two numbers
    newest = rule_versions(academy, skill)[0]
    if newest.programme == programme:
        return newest
    rule = CompetenceRule.objects.create(
        academy=academy,
        skill=skill,
        number=newest.number + 1,
        programme=dict(programme),
        made_by=actor,
        made_at=now,
    )
    record(actor, "change_rule", rule, now=now, before=newest.programme, after=rule.programme)
    enqueue("assessments.tasks.refresh_competence", academy_id=academy.pk)
    return rule


@transaction.atomic
def change_mastery(
    *, academy: Academy, conditions: Mapping[str, Any], actor: Membership, now: datetime
) -> MasteryRule:
    """A new version of the mastery conditions; the same data change nothing."""
    try:
        wanted = parse_mastery(conditions)
    except CompetenceInputError as error:
        raise RuleCannotBe(error) from error
    ensure_rules(academy=academy, now=now)
    Academy.objects.select_for_update().get(pk=academy.pk)  # two changes at once get two numbers
    newest = mastery_rule(academy)
    if parse_mastery(newest.conditions) == wanted:
        return newest
    rule = MasteryRule.objects.create(
        academy=academy, number=newest.number + 1, conditions=dict(conditions), made_by=actor, made_at=now
    )
    record(actor, "change_mastery", rule, now=now, before=newest.conditions, after=rule.conditions)
    return rule


@transaction.atomic(savepoint=False)
def refresh_competence(
    *,
    student: Membership,
    now: datetime,
    marks: Sequence[Mark] | None = None,
    correction: Correction | None = None,
) -> None:
    """Record what the marks that count now decide, and write the student's standings and gate afresh.

    ``marks`` and ``correction``: those that count, where the caller holds the lock and has read them.
    """
    if marks is None:
        Membership.objects.select_for_update().get(pk=student.pk)  # two at once: the later sees both
    rules = _rules(student.academy, now)
    sets = graded_sets(student, marks)
    found = skill_competence(student, sets, correction or correction_of(student.academy), rules)
    for each in found:
        _record_decisions(student, each, now)
    _write_standings(student, found, now)
    marks_changed(student=student, now=now)


def _rules(academy: Academy, now: datetime) -> list[SkillRules]:
    found = skill_rules(academy)
    is_known = not any(rules.newest._state.adding for rules in found)
    return found if is_known else ensure_rules(academy=academy, now=now)


def refresh_academy(*, academy: Academy, now: datetime) -> None:
    """The same for every current student, each in a transaction of its own."""
    for student in students(academy).select_related("academy"):
        refresh_competence(student=student, now=now)


def _record_decisions(student: Membership, found: SkillCompetence, now: datetime) -> None:
    if found.dropped:
        _record_withdrawal(found.dropped, now)
    for step in found.standing.added:
        CompetenceDecision.objects.create(
            student=student,
            skill=found.skill,
            rule=found.rules.versions[step.version],
            kind=step.kind,
            practice_set=found.set_at(step),
            words=found.told(step),
            attained=step.decision.attained.false_declared if step.decision else None,
            at=now,
        )


def _record_withdrawal(dropped: CompetenceDecision, now: datetime) -> None:
    CompetenceDecision.objects.create(
        student_id=dropped.student_id,
        skill_id=dropped.skill_id,
        rule_id=dropped.rule_id,
        kind=CompetenceDecision.Kind.WITHDRAWN,
        practice_set_id=dropped.practice_set_id,
        withdraws=dropped,
        words="Marks that it rested on were corrected, and the corrected marks do not bear it.",
        at=now,
    )


def _write_standings(student: Membership, found: Iterable[SkillCompetence], now: datetime) -> None:
    CompetenceStanding.objects.bulk_create(
        [
            CompetenceStanding(
                student=student,
                skill=each.skill,
                rule=each.rule,
                status=each.status,
                words=each.words,
                sets=each.standing.decision.sets,
                sets_left=each.standing.decision.sets_left,
                at=now,
            )
            for each in found
        ],
        update_conflicts=True,
        unique_fields=["student", "skill"],
        update_fields=["rule", "status", "words", "sets", "sets_left", "at"],
    )
