"""Needs: raised from marks, from time or by hand; closed by a graded set or a counted drill alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction

from academy.errors import Conflict, Denied, DomainError
from academy.models import Academy, Membership
from academy.selectors.people import students
from academy.services.audit import record
from assessments.models import DrillCount, Mark, Need, NeedRules
from assessments.scoring.need_rules import (
    LEAST_PRIORITY,
    MOST_PRIORITY,
    NeedRuleError,
    parse_need_rules,
)
from assessments.scoring.need_rules import NeedRules as Rules
from assessments.scoring.needs import Close, Needs, OpenNeed, Raise, Renew, SkillFacts, decide_needs
from assessments.selectors.grades import local_day, marks_that_count
from assessments.selectors.need_facts import (
    answers,
    need_rules_row,
    open_need_facts,
    open_needs_of,
    skill_facts,
)
from assessments.selectors.parameters import newest_parameters
from assessments.selectors.skill import Reckoning, reckoning
from courses.models import Drill, Skill
from courses.selectors.catalogue import every_skill


class NeedAlreadyOpen(Conflict):
    def __init__(self, skill: str) -> None:
        super().__init__(
            "need_already_open",
            f"{skill} is asked for already. Let her do that one first, or raise another skill.",
        )


class NeedRuleCannotBe(DomainError):
    def __init__(self, error: NeedRuleError) -> None:
        super().__init__(error.code, error.message, field=error.field)


class NotHerEducator(Denied):
    def __init__(self) -> None:
        super().__init__("not_her_educator", "Only an educator of the academy may record this.")


class NeedCannotBe(DomainError):
    """``field`` names the entry to correct."""


class CountCannotBe(DomainError):
    """``field`` names the entry to correct."""


@dataclass(frozen=True, slots=True)
class WantedNeed:
    """What an educator asks for by hand."""

    skill: Skill
    reason: str
    due_on: date
    priority: int = 3
    drill: Drill | None = None
    count_target: int | None = None


@transaction.atomic
def refresh_needs(*, student: Membership, now: datetime) -> Needs:
    """Raise and close what the student's marks, counts and time say now; twelve queries and what changes."""
    Membership.objects.select_for_update().get(pk=student.pk)  # a signature waits, and then sees this
    marks, skills = list(marks_that_count(student)), every_skill()
    found = reckoning(marks, skills, newest_parameters(student.academy), now=now)
    return needs_from_marks(student, marks, skills, found, now)


def needs_from_marks(
    student: Membership, marks: Sequence[Mark], skills: Sequence[Skill], found: Reckoning, now: datetime
) -> Needs:
    """Inside the caller's transaction, which holds the student's lock. Five queries, and what changes."""
    rules = parse_need_rules(need_rules_row(student.academy).rules)
    facts = skill_facts(student, marks, skills, found, rules, now=now)
    return _record(student, marks, skills, facts, rules, now)


def refresh_academy_needs(*, academy: Academy, now: datetime) -> None:
    """The same for every current student, each in a transaction of its own."""
    for student in students(academy).select_related("academy"):
        refresh_needs(student=student, now=now)


@transaction.atomic
def raise_need(*, student: Membership, wanted: WantedNeed, actor: Membership, now: datetime) -> Need:
    """By hand, for a reason that the student reads."""
    _refuse_strangers(student, actor)
    _check_wanted(wanted, local_day(student.academy, now))
    drill = wanted.drill
    try:
        with transaction.atomic():
            need = Need.objects.create(
                student=student,
                skill=wanted.skill,
                kind=Need.Kind.BY_HAND,
                drill=drill,
                count_target=(wanted.count_target or drill.count_target) if drill else None,
                reason=wanted.reason.strip(),
                priority=wanted.priority,
                due_on=wanted.due_on,
                raised_at=now,
                raised_by=actor,
            )
    except IntegrityError as error:
        raise NeedAlreadyOpen(wanted.skill.name) from error
    record(actor, "raise_need", need, now=now, reason=need.reason)
    return need


@transaction.atomic
def record_drill_count(
    *,
    need: Need,
    done: int,
    clean_count: int,
    actor: Membership,
    now: datetime,
    note: str = "",
) -> DrillCount:
    """What was counted in the need's drill; once its target is reached, needs that a count answers close."""
    _refuse_strangers(need.student, actor)
    drill = _counted_drill(need, done, clean_count)
    Membership.objects.select_for_update().get(pk=need.student_id)
    count = DrillCount.objects.create(
        student=need.student,
        drill=drill,
        done=done,
        clean_count=clean_count,
        recorded_by=actor,
        at=now,
        note=note,
    )
    record(actor, "record_drill_count", count, now=now, after={"done": done, "clean": clean_count})
    refresh_needs(student=need.student, now=now)
    return count


@transaction.atomic
def change_need_rules(
    *, academy: Academy, rules: Mapping[str, Any], actor: Membership, now: datetime
) -> NeedRules:
    """A new version, in force for what is raised from now on; the same rules change nothing."""
    try:
        wanted = parse_need_rules(rules)
    except NeedRuleError as error:
        raise NeedRuleCannotBe(error) from error
    Academy.objects.select_for_update().get(pk=academy.pk)  # two changes at once get two numbers
    newest = need_rules_row(academy)
    if newest.pk and parse_need_rules(newest.rules) == wanted:
        return newest
    row = NeedRules.objects.create(
        academy=academy, number=newest.number + 1, rules=dict(rules), made_by=actor, made_at=now
    )
    record(actor, "change_need_rules", row, now=now, before=newest.rules, after=row.rules)
    return row


def _record(
    student: Membership,
    marks: Sequence[Mark],
    skills: Sequence[Skill],
    facts: Sequence[SkillFacts],
    rules: Rules,
    now: datetime,
) -> Needs:
    rows = open_needs_of(student)
    known: Sequence[OpenNeed] = open_need_facts(student, rows)
    found = decide_needs(facts, known, rules, today=local_day(student.academy, now))
    _close(rows, found.closed, now)
    _renew(rows, found.renewed, {mark.criterion.skill.code: mark.grade.practice_set_id for mark in marks})
    if found.raised:
        _raise(student, marks, skills, found.raised, now)
    return found


def _close(rows: Sequence[Need], closed: Sequence[Close], now: datetime) -> None:
    by_key = {row.pk: row for row in rows}
    for each in closed:
        row = by_key[each.key]
        row.closed_at, row.closed_by_grade_id, row.closed_by_count_id = now, each.grade, each.count
        row.save(update_fields=["closed_at", "closed_by_grade", "closed_by_count"])


def _renew(rows: Sequence[Need], renewed: Sequence[Renew], sets: Mapping[str, int]) -> None:
    by_key = {row.pk: row for row in rows}
    for each in renewed:
        row = by_key[each.key]
        row.reason, row.due_on = each.reason, each.due_on
        row.raised_from_id = sets.get(row.skill.code)
    Need.objects.bulk_create(
        [by_key[each.key] for each in renewed],
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=["reason", "due_on", "raised_from"],
    )


def _raise(
    student: Membership,
    marks: Sequence[Mark],
    skills: Sequence[Skill],
    raised: Sequence[Raise],
    now: datetime,
) -> None:
    by_code = {skill.code: skill for skill in skills}
    drills = answers(marks, {each.skill for each in raised})
    sets = {mark.criterion.skill.code: mark.grade.practice_set_id for mark in marks}
    rows = []
    for each in raised:
        answer = drills.get(each.skill)
        rows.append(
            Need(
                student=student,
                skill=by_code[each.skill],
                kind=each.kind,
                drill=answer.drill if answer else None,
                count_target=answer.count if answer else None,
                reason=each.reason,
                priority=each.priority,
                due_on=each.due_on,
                raised_at=now,
                raised_from_id=sets.get(each.skill),
            )
        )
    Need.objects.bulk_create(rows)


def _check_wanted(wanted: WantedNeed, today: date) -> None:
    if not wanted.reason.strip():
        raise NeedCannotBe("no_reason", "Say in a sentence why; the student reads it.", field="reason")
    if wanted.due_on < today:
        raise NeedCannotBe(
            "due_in_the_past", "This day is over. Choose today or a later day.", field="due_on"
        )
    if not LEAST_PRIORITY <= wanted.priority <= MOST_PRIORITY:
        raise NeedCannotBe("no_such_priority", "Give a priority from 1 to 5.", field="priority")


def _counted_drill(need: Need, done: int, clean_count: int) -> Drill:
    if need.drill is None:
        raise CountCannotBe("no_drill", "No drill belongs to this need: a graded set answers it.")
    if done < 1 or not 0 <= clean_count <= done:
        raise CountCannotBe(
            "count_cannot_be",
            "The clean ones are part of all that were done, and at least one was done. Correct the counts.",
            field="clean_count",
        )
    return need.drill


def _refuse_strangers(student: Membership, actor: Membership) -> None:
    is_hers = actor.academy_id == student.academy_id and actor.is_staff_here and actor.is_current
    if not is_hers:
        raise NotHerEducator
