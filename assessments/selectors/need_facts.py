"""Gathers what needs are decided from."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby

from academy.models import Academy, Membership
from academy.read_once import read_once
from assessments.models import CompetenceStanding, DrillCount, Grade, Mark, Need, NeedRules
from assessments.scoring.need_rules import NeedRules as Rules
from assessments.scoring.need_rules import parse_need_rules
from assessments.scoring.needs import OpenNeed, SkillFacts, SkillSet
from assessments.selectors.grades import local_day
from assessments.selectors.skill import BELOW_TARGET, TARGET_LEVEL, Reckoning
from courses.models import Drill, Skill
from courses.selectors.catalogue import every_fault

AHEAD = range(366)  # days


@dataclass(frozen=True, slots=True)
class Answer:
    """The drill that answers a skill's worst fault, until its count."""

    drill: Drill
    count: int


@read_once
def need_rules_row(academy: Academy) -> NeedRules:
    """The newest, or the defaults, not saved; one query."""
    return NeedRules.objects.filter(academy=academy).first() or NeedRules(academy=academy, number=0)


def rules_of(academy: Academy) -> Rules:
    return parse_need_rules(need_rules_row(academy).rules)


def open_needs_of(student: Membership) -> list[Need]:
    """Locked by their student; one query."""
    return list(Need.objects.filter(student=student, closed_at=None).select_related("skill"))


def skill_facts(
    student: Membership,
    marks: Sequence[Mark],
    skills: Sequence[Skill],
    found: Reckoning,
    rules: Rules,
    *,
    now: datetime,
) -> list[SkillFacts]:
    """One for each skill with marks; two queries."""
    today = local_day(student.academy, now)
    sets, fadings = _sets_by_skill(student.academy, marks), found.fading(AHEAD)
    review, drilled = _in_review(student, skills), _drilled(student)
    facts = []
    for weak in found.skills:
        code = weak.target.skill
        ahead = fadings[code].first_below(level=BELOW_TARGET, certainty=rules.certainty)
        row = SkillFacts(
            code=code,
            name=weak.target.name,
            is_gate=weak.target.is_gate,
            target=weak.target.target,
            sets=sets.get(code, ()),
            level=weak.estimate.level,
            chance_below=weak.chance_below,
            fades_on=_day(today, ahead),
            in_review=code in review,
            drilled_at=drilled.get(code),
        )
        facts.append(row)
    return facts


def open_need_facts(student: Membership, needs: Iterable[Need]) -> list[OpenNeed]:
    """With what was counted for each since it was raised; one query, none without needs."""
    needs = list(needs)
    if not needs:
        return []
    counts = list(
        DrillCount.objects.filter(student=student, at__gte=min(each.raised_at for each in needs)).order_by(
            "id"
        )
    )
    return [_open_need(each, counts) for each in needs]


def answers(marks: Sequence[Mark], skills: Iterable[str]) -> Mapping[str, Answer]:
    """By skill code: the drill of the worst fault in its newest set, else of its first fault; two queries."""
    wanted = set(skills)
    newest = {mark.criterion.skill.code: mark.grade for mark in marks if mark.criterion.skill.code in wanted}
    worst = dict(
        Grade.objects.filter(pk__in={grade.pk for grade in newest.values()}).values_list(
            "pk", "verdict__worst"
        )
    )
    faults = every_fault()
    found = {}
    for code in wanted:
        rates = worst.get(newest[code].pk) or [] if code in newest else []
        seen = {rate["code"] for rate in rates}
        own = [fault for fault in faults if fault.skill.code == code]
        if chosen := next((fault for fault in own if fault.code in seen), own[0] if own else None):
            found[code] = _answer(chosen.drill, newest.get(code))
    return found


def _answer(drill: Drill, grade: Grade | None) -> Answer:
    """The educator's own count where she has chosen this very drill."""
    own = grade.drill_count if grade and grade.drill_id == drill.pk else None
    return Answer(drill, own or drill.count_target)


def _sets_by_skill(academy: Academy, marks: Sequence[Mark]) -> dict[str, tuple[SkillSet, ...]]:
    """Marks come oldest set first."""
    found: dict[str, list[SkillSet]] = {}
    for _, group in groupby(marks, key=lambda mark: mark.grade_id):
        by_skill: dict[str, list[Mark]] = {}
        for mark in group:
            by_skill.setdefault(mark.criterion.skill.code, []).append(mark)
        for code, given in by_skill.items():
            found.setdefault(code, []).append(_skill_set(academy, given))
    return {code: tuple(sets) for code, sets in found.items()}


def _skill_set(academy: Academy, marks: Sequence[Mark]) -> SkillSet:
    grade = marks[0].grade
    done = grade.practice_set
    failed = next((mark for mark in marks if _misses_gate(mark)), None)
    return SkillSet(
        day=local_day(academy, done.finished_at or grade.signed_at),
        grade=grade.pk,
        signed_at=grade.signed_at,
        passed=all(mark.level >= TARGET_LEVEL for mark in marks),
        failed=_missed(failed, done.number) if failed else "",
    )


def _misses_gate(mark: Mark) -> bool:
    return mark.criterion.is_gate and mark.level < mark.criterion.gate_min


def _missed(mark: Mark, number: int) -> str:
    return (
        f"{mark.criterion.name} was level {mark.level} in set {number}; the gate needs "
        f"{mark.criterion.gate_min}."
    )


def _in_review(student: Membership, skills: Sequence[Skill]) -> set[str]:
    """Codes."""
    rows = CompetenceStanding.objects.filter(student=student, status=CompetenceStanding.Status.REVIEW)
    keys = set(rows.values_list("skill_id", flat=True))
    return {skill.code for skill in skills if skill.pk in keys}


def _drilled(student: Membership) -> dict[str, datetime]:
    rows = Need.objects.filter(student=student, closed_by_count__isnull=False).order_by("closed_at")
    return {code: at for code, at in rows.values_list("skill__code", "closed_at") if at}


def _open_need(need: Need, counts: Sequence[DrillCount]) -> OpenNeed:
    mine = [each for each in counts if each.drill_id == need.drill_id and each.at >= need.raised_at]
    return OpenNeed(
        key=need.pk,
        skill=need.skill.code,
        kind=need.kind,
        raised_at=need.raised_at,
        reason=need.reason,
        due_on=need.due_on,
        count_target=need.count_target,
        counted=sum(each.clean_count for each in mine),
        count=mine[-1].pk if mine else None,
    )


def _day(today: date, ahead: float | None) -> date | None:
    return None if ahead is None else today + timedelta(days=ahead)
