"""What a student's record says at the instant of certifying, gathered to be frozen."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from math import floor
from typing import cast

from academy.models import Membership
from academy.templatetags.ui import level_word
from assessments.models import Criterion, RubricVersion
from assessments.scoring.certified import Certified, CertifiedCondition, CertifiedSkill
from assessments.scoring.gate_rules import CertificateRules, parse_certificate_rules
from assessments.scoring.readiness_facts import ReadinessFacts, SetFact
from assessments.selectors.readiness import Readiness
from assessments.selectors.readiness_facts import facts_of
from assessments.selectors.skill import SkillLine, stand_of
from courses.models import Enrolment

Descriptors = Mapping[str, tuple[str, ...]]


def certificate_rules(enrolment: Enrolment) -> CertificateRules:
    """What the programme version asks of a certificate; ``readiness_of`` refuses what cannot be read."""
    return parse_certificate_rules(enrolment.version.certificate)


def certified_now(
    student: Membership, readiness: Readiness, *, actor: Membership, now: datetime
) -> Certified:
    """Everything of ``readiness.enrolment`` as it stands; about as many queries as the readiness itself."""
    enrolment = cast(Enrolment, readiness.enrolment)
    academy, rules = student.academy, certificate_rules(enrolment)
    facts, stand = facts_of(student, enrolment, None, now=now), stand_of(student, now=now)
    sets = _sets(facts)
    rubrics = _rubrics(sets)
    return Certified(
        school=academy.name,
        town=academy.town,
        holder=student.name,
        programme=enrolment.version.programme.name,
        programme_version=enrolment.version.number,
        scope=rules.scope,
        theory_minutes=facts.hours.theory,
        practical_minutes=facts.hours.practical + facts.hours.clock,
        sets=len(sets),
        first_set_on=min((each.on for each in sets), default=None),
        last_set_on=max((each.on for each in sets), default=None),
        educator=actor.name,
        rubric_versions=tuple(str(version) for version in rubrics),
        parameter_version=stand.version.number if stand.version else None,
        skills=tuple(_skills(stand.lines, _descriptors(rubrics), rules)),
        marks=tuple(int(each.grade) for each in sets),
        conditions=tuple(CertifiedCondition(each.name, each.words) for each in readiness.certificate),
        gate_opened_on=_gate_opened_on(readiness, enrolment),
        awarded_at=now.replace(microsecond=0),
    )


def _sets(facts: ReadinessFacts) -> list[SetFact]:
    """Those worked on this programme: the newest ``facts.graded``, for sets come oldest first."""
    return list(facts.sets)[len(facts.sets) - facts.graded :]


def _rubrics(sets: Iterable[SetFact]) -> list[RubricVersion]:
    """Versions that the sets were marked with, oldest first; one query."""
    used = RubricVersion.objects.filter(practice_sets__uid__in=[each.uid for each in sets])
    return list(used.select_related("rubric").order_by("rubric__name", "number").distinct())


def _descriptors(rubrics: Iterable[RubricVersion]) -> Descriptors:
    """By skill, of its first criterion in the newest of the rubrics that has one; two queries."""
    found: dict[str, tuple[str, ...]] = {}
    rows = Criterion.objects.filter(version__in=list(rubrics)).select_related("skill")
    for criterion in rows.prefetch_related("descriptors").order_by("-version__number", "order"):
        texts = tuple(each.text for each in criterion.descriptors.all())
        found.setdefault(criterion.skill.code, texts)
    return found


def _skills(
    lines: Iterable[SkillLine], descriptors: Descriptors, rules: CertificateRules
) -> Iterable[CertifiedSkill]:
    asked = rules.min_levels or {}
    for line in lines:
        code, estimate = line.estimate.skill, line.estimate
        low, high = cast(tuple[float, float], (estimate.low, estimate.high))
        yield CertifiedSkill(
            code=code,
            name=line.name,
            is_gate=line.is_gate,
            level=line.level,
            level_word=level_word(line.level),
            low=round(low, 1),
            high=round(high, 1),
            sets=estimate.sets,
            descriptors=descriptors.get(code, ()),
            required=floor(asked[code]) if code in asked else None,
        )


def _gate_opened_on(readiness: Readiness, enrolment: Enrolment) -> date | None:
    opening = readiness.opening
    if opening is None or opening.enrolment_id != enrolment.pk:
        return None
    return readiness.student.academy.date_of(opening.at)
