"""What the record says at the instant of certifying."""

from datetime import timedelta

import pytest

from assessments.models import PracticeSet
from assessments.scoring.certified import Certified
from assessments.selectors.certified import certificate_rules, certified_now
from assessments.selectors.readiness import readiness_of
from assessments.selectors.skill import stand_of
from courses.models import HoursKind
from courses.services.hours import HoursContent, enter_hours
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, make_graded_set
from tests.factories.certificates import ISSUED, SCOPE, make_ready
from tests.factories.courses import make_head

pytestmark = pytest.mark.django_db


def certified(cast: Cast) -> Certified:
    readiness = readiness_of(cast.ada, now=ISSUED)
    return certified_now(cast.ada, readiness, actor=cast.ines, now=ISSUED)


def test_hours_are_those_entered_and_those_on_the_clock(cast: Cast):
    enrolment = make_ready(cast.ada, cast.ines)
    for kind, minutes in ((HoursKind.THEORY, 90), (HoursKind.ONLINE, 30), (HoursKind.PRACTICAL, 45)):
        content = HoursContent(kind=kind, minutes=minutes, on=STARTED.date())
        enter_hours(enrolment=enrolment, content=content, actor=cast.ines, now=STARTED + timedelta(days=1))
    found = certified(cast)
    assert (found.theory_minutes, found.practical_minutes) == (120, 45 + 240)


def test_levels_are_those_of_the_day_with_their_interval(cast: Cast):
    make_ready(cast.ada, cast.ines)
    found, stand = certified(cast), stand_of(cast.ada, now=ISSUED)
    assert [skill.code for skill in found.skills] == [line.estimate.skill for line in stand.lines]
    for skill, line in zip(found.skills, stand.lines, strict=True):
        assert skill.level == line.level and skill.low <= skill.level <= skill.high
        assert skill.sets == 1 and len(skill.descriptors) == 5
    isolation = next(skill for skill in found.skills if skill.code == "isolation")
    assert isolation.is_gate and isolation.required == 2


def test_rubric_sets_days_and_conditions_are_named(cast: Cast):
    make_ready(cast.ada, cast.ines)
    first = PracticeSet.objects.get(student=cast.ada)
    bench = Bench(cast.ada, cast.ines, first.brief, make_head(cast.academy, "Second head"))
    grade = make_graded_set(bench, at=STARTED + timedelta(days=3))
    found = certified(cast)
    assert found.rubric_versions == ("Starter rubric, version 1",)
    assert found.marks == (first.grades.get().pk, grade.pk)
    assert (found.first_set_on, found.last_set_on) == (STARTED.date(), STARTED.date() + timedelta(days=3))
    assert [each.name for each in found.conditions] == ["Graded sets", "Level: Isolation"]
    assert (found.scope, found.educator, found.gate_opened_on) == (SCOPE, "Ines Carvalho", None)


def test_rules_are_those_of_the_enrolments_version(cast: Cast):
    enrolment = make_ready(cast.ada, cast.ines)
    rules = certificate_rules(enrolment)
    assert (rules.graded_sets, rules.valid_months, rules.min_levels) == (1, 24, {"isolation": 2.0})
