"""Gathers what the gate and the certificate are judged from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Sum

from academy.models import Academy, Membership
from academy.selectors.consents import consents_of
from assessments.models import (
    CompetenceStanding,
    GateOpening,
    Grade,
    HygieneLine,
    MasteryRule,
    PracticeSet,
    SecondMark,
    SkillStanding,
)
from assessments.scoring.competence import COMPETENT
from assessments.scoring.mastery import MasteryConditions
from assessments.scoring.programme_rules import parse_mastery
from assessments.scoring.readiness_facts import (
    ConsentFact,
    HoursFact,
    LevelFact,
    MasteryFact,
    ReadinessFacts,
    SetFact,
    SkillFact,
    UnitFact,
    day,
)
from assessments.selectors.competence import (
    GradedSet,
    SkillCompetence,
    blind_markers,
    graded_sets,
    mastery_sets,
    skill_competence,
)
from assessments.selectors.corrections import correction_of
from assessments.selectors.set_times import TIMED
from courses.models import Enrolment, HoursKind
from courses.selectors.enrolments import UnitState, unit_states
from courses.selectors.hours import hours_total, theory_minutes


@dataclass(frozen=True, slots=True)
class _Course:
    """One student on one programme: ``since`` her previous one ended, if there was one."""

    student: Membership
    enrolment: Enrolment
    since: datetime | None

    @property
    def academy(self) -> Academy:
        return self.student.academy


def facts_of(
    student: Membership, enrolment: Enrolment, opening: GateOpening | None, *, now: datetime
) -> ReadinessFacts:
    """Everything known on the day of ``now``; 20 queries for any number of sets, fewer without any.

    While the gate is open by ``opening``, mastery and the blind mark are those of the sets that it opened on,
    by the marks that count today.
    """
    course = _Course(student, enrolment, _previous_end(enrolment))
    graded = graded_sets(student)
    sets = _set_facts(course, graded)
    standings = SkillStanding.objects.filter(student=student).select_related("skill")
    return ReadinessFacts(
        units=[_unit(course.academy, each) for each in unit_states(enrolment)],
        hours=_hours(course),
        sets=sets,
        graded=sum(_belongs(course, each.practice_set) for each in graded),
        skills=[
            _skill(course.academy, each)
            for each in skill_competence(student, graded, correction_of(course.academy))
        ],
        mastery=_mastery(course, graded, sets, opening),
        consents=_consents(student),
        levels={each.skill.code: LevelFact(each.skill.name, each.level) for each in standings},
        openings=GateOpening.objects.filter(enrolment=enrolment).count(),
        now=now,
        left_on=course.academy.date_of(student.left_at) if student.left_at else None,
    )


def _previous_end(enrolment: Enrolment) -> datetime | None:
    earlier = Enrolment.objects.filter(student=enrolment.student_id, ended_at__lte=enrolment.enrolled_at)
    return earlier.order_by("-ended_at").values_list("ended_at", flat=True).first()


def _belongs(course: _Course, practice_set: PracticeSet) -> bool:
    """Sets count to the programme they were worked on, also those made before the student was put on it."""
    at = practice_set.finished_at
    return course.since is None or (at is not None and at > course.since)


def _hours(course: _Course) -> HoursFact:
    total, version = hours_total(course.enrolment), course.enrolment.version
    timed = PracticeSet.objects.filter(student=course.student, state__in=TIMED)
    if course.since:
        timed = timed.filter(finished_at__gt=course.since)
    seconds = timed.order_by().aggregate(all=Sum("worked_s"))["all"] or 0
    return HoursFact(
        theory=theory_minutes(total),
        practical=total[HoursKind.PRACTICAL],
        clock=int(seconds // 60),
        asked_theory=None if version.theory_hours is None else float(version.theory_hours),
        asked_practical=None if version.practical_hours is None else float(version.practical_hours),
    )


def _unit(academy: Academy, state: UnitState) -> UnitFact:
    unit, signed = state.unit, state.sign_off
    fact = UnitFact(unit.code, unit.title, unit.before_live)
    if signed is None:
        return fact
    told = f"{'signed off' if signed.passed else 'not passed'} on {day(academy.date_of(signed.at))}"
    words = f"{told} by {signed.signed_by.name}"
    return UnitFact(unit.code, unit.title, unit.before_live, signed.passed, words, str(signed.pk))


def _set_facts(course: _Course, graded: Sequence[GradedSet]) -> list[SetFact]:
    """What the marks that count say of the hygiene lines; two queries."""
    entered = dict(
        Grade.objects.filter(pk__in=[each.grade.pk for each in graded]).values_list(
            "pk", "entry__lines_missed"
        )
    )
    lines: dict[int, dict[str, str]] = {}
    asked = HygieneLine.objects.filter(version__in={each.practice_set.rubric_id for each in graded})
    for version, code, text in asked.values_list("version", "code", "text"):
        lines.setdefault(version, {})[code] = text
    return [
        _set_fact(course.academy, each, lines.get(each.practice_set.rubric_id, {}), entered[each.grade.pk])
        for each in graded
    ]


def _set_fact(
    academy: Academy, each: GradedSet, lines: Mapping[str, str], missed: Sequence[str] | None
) -> SetFact:
    practice_set, grade = each.practice_set, each.grade
    return SetFact(
        uid=str(practice_set.uid),
        number=practice_set.number,
        on=academy.date_of(practice_set.finished_at or grade.signed_at),
        graded_at=practice_set.graded_at or grade.signed_at,
        grade=str(grade.pk),
        worked_minutes=int(practice_set.worked_s or 0) // 60,
        lines=len(lines),
        missed=None if missed is None else tuple(lines.get(code, code) for code in missed),
    )


def _skill(academy: Academy, found: SkillCompetence) -> SkillFact:
    """A declaration counts once it is recorded; until then the sets that it will rest on are in the way."""
    newest = found.recorded[-1] if found.recorded else None
    competent = found.status == COMPETENT and newest is not None
    words = CompetenceStanding.Status(found.status).label
    if newest:
        words = f"{words}, {newest.get_kind_display()} on {day(academy.date_of(newest.at))}"
    row = str(newest.pk) if newest else ""
    return SkillFact(found.skill.code, found.skill.name, competent, words, row, found.sets_left)


def _mastery(
    course: _Course, graded: Sequence[GradedSet], sets: Sequence[SetFact], opening: GateOpening | None
) -> MasteryFact:
    """Three queries."""
    known = [
        (each, fact)
        for each, fact in zip(graded, sets, strict=True)
        if opening is None or fact.graded_at <= opening.at
    ]
    history = mastery_sets(course.academy, [each for each, _ in known], blind_markers(course.student))
    waiting = SecondMark.objects.filter(practice_set__student=course.student, state=SecondMark.State.OPEN)
    return MasteryFact(
        history,
        [fact for _, fact in known],
        _conditions(course.academy, opening),
        tuple(waiting.values_list("practice_set__number", flat=True)),
    )


def _conditions(academy: Academy, opening: GateOpening | None) -> MasteryConditions:
    """The newest; for an open gate those in force when it opened."""
    rules = MasteryRule.objects.filter(academy=academy)
    newest = (rules.filter(made_at__lte=opening.at) if opening else rules).first()
    return parse_mastery(newest.conditions) if newest else MasteryConditions()


def _consents(student: Membership) -> dict[str, ConsentFact]:
    found: dict[str, ConsentFact] = {}
    for purpose, state in consents_of(student).items():
        newest = state.newest
        found[purpose] = ConsentFact(
            state.wording.name,
            state.given,
            student.academy.date_of(newest.at) if newest else None,
            str(newest.pk) if newest else "",
        )
    return found
