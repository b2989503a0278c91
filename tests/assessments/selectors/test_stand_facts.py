"""A kept student page is never older than the last write: after each it tells what a page made anew tells."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from academy.models import Academy, AppendOnly, Cohort, User
from assessments.models import CompetenceDecision, CompetenceRule, Grade, MasteryRule, ParameterVersion
from assessments.scoring.programme_rules import PRESETS
from assessments.selectors.stand_facts import stand_facts
from assessments.services.competence import change_mastery, change_rule
from assessments.services.marking import correct_marks
from assessments.services.parameters import refit_parameters
from courses.models import BriefVersion, Drill, Fault, SetBrief, Skill
from courses.services.briefs import content_of, revise_brief
from tests.factories.academy import Cast, make_cohort
from tests.factories.assessments import (
    Bench,
    Outcome,
    make_entry,
    make_finished_set,
    make_graded_set,
)
from tests.factories.kept import made_anew, shown
from tests.factories.second_marks import second_result

NOW = timezone.now().replace(minute=20)
DAYS_AGO = NOW - timedelta(days=40)
STUCK = Outcome(faults={place: ["STK"] for place in range(7)})


@pytest.fixture
def cohort(cast: Cast) -> Cohort:
    """Ada's."""
    cast.ada.cohort = make_cohort(cast.academy, "Spring")
    cast.ada.save()
    return cast.ada.cohort


@pytest.fixture
def at(monkeypatch: pytest.MonkeyPatch) -> Callable[[Any], None]:
    """Sets the clock of the page."""

    def set_clock(instant: Any) -> None:
        monkeypatch.setattr("assessments.views.students.timezone", SimpleNamespace(now=lambda: instant))

    set_clock(NOW)
    return set_clock


def correct(bench: Bench, cast: Cast) -> None:
    grade = bench.student.practice_sets.get(number=1).grades.get()
    correct_marks(
        actor=cast.owner,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"isolation": 4}),
        reason="Seen again",
        base_revision=1,
        now=NOW,
    )


def revise(bench: Bench, cast: Cast) -> None:
    content = replace(content_of(bench.brief), targets=((1, 123), (2, 77)))
    revise_brief(brief=bench.brief.brief, content=content, actor=cast.ines, base=1, now=NOW)


def new_rule(bench: Bench, cast: Cast) -> None:
    skill = Skill.objects.filter(is_gate=True)[0]
    change_rule(
        academy=bench.academy, skill=skill, programme=PRESETS["long_course"], actor=cast.owner, now=NOW
    )


def new_mastery(bench: Bench, cast: Cast) -> None:
    change_mastery(academy=bench.academy, conditions={"sets": 9}, actor=cast.owner, now=NOW)


WRITES: dict[str, Callable[[Bench, Cast], object]] = {
    "her name": lambda bench, cast: User.objects.filter(pk=cast.ada.user_id).update(name="Adaline Marsh"),
    "the name of who signed": lambda b, cast: User.objects.filter(pk=cast.ines.user_id).update(name="I. C."),
    "her cohort's name": lambda b, cast: Cohort.objects.filter(name="Spring").update(name="Autumn"),
    "that she left": lambda b, cast: type(cast.ada).objects.filter(pk=cast.ada.pk).update(left_at=NOW),
    "the time zone": lambda b, cast: Academy.objects.filter(pk=cast.academy.pk).update(
        time_zone="Pacific/Kiritimati"
    ),
    "the brief's name": lambda b, cast: SetBrief.objects.update(name="Airy volume"),
    "a skill's meaning": lambda b, cast: Skill.objects.update(meaning="Said in other words."),
    "a fault's name": lambda b, cast: Fault.objects.filter(code="STK").update(name="Glued together"),
    "a drill": lambda b, cast: Drill.objects.update(counted="tries"),
    "a brief's minutes": revise,
    "a corrected mark": correct,
    "one more graded set": lambda bench, cast: make_graded_set(bench, at=NOW - timedelta(days=3)),
    "one more finished set": lambda bench, cast: make_finished_set(bench, at=NOW - timedelta(days=3)),
    "a rule of competence": new_rule,
    "the mastery conditions": new_mastery,
    "new parameters": lambda bench, cast: refit_parameters(academy=bench.academy, seed=1, now=NOW),
    "a blind second mark": lambda bench, cast: second_result(
        bench.student.practice_sets.get(number=1).grades.get(), cast.owner, at=NOW
    ),
}
UNSEEN = {"a blind second mark"}  # counts towards mastery, where one set more or less may change no word


@pytest.mark.parametrize("write", WRITES)
def test_after_a_write_the_kept_page_is_the_page_made_anew(
    bench: Bench, cast: Cast, cohort: Cohort, client_for, at, write: str
):
    for days in (0, 5, 10):
        make_graded_set(bench, at=DAYS_AGO + timedelta(days=days), outcome=STUCK)
    client, url = client_for(cast.ines), reverse("assessments:student", args=[cast.ada.pk])
    before = shown(client, url)
    WRITES[write](bench, cast)
    after = shown(client, url)
    assert after == made_anew(client, url)
    assert after != before or write in UNSEEN


def test_the_page_is_kept_while_nothing_is_written(bench: Bench, cast: Cast, client_for, at, count_queries):
    """It costs a student with no sets as much as one with three: the facts alone are asked for."""
    client = client_for(cast.ada)
    none = count_queries(client, reverse("assessments:stand"))
    for days in (0, 5, 10):
        make_graded_set(bench, at=DAYS_AGO + timedelta(days=days))
    assert count_queries(client, reverse("assessments:stand")) == none


def test_figures_fade_and_days_are_counted_though_nothing_is_written(
    bench: Bench, cast: Cast, client_for, at
):
    make_graded_set(bench, at=NOW - timedelta(days=1), outcome=STUCK)
    client, url = client_for(cast.ada), reverse("assessments:stand")
    before = shown(client, url)
    at(NOW + timedelta(days=60))
    after = shown(client, url)
    assert "overdue" in after and "overdue" not in before
    assert after == made_anew(client, url)


def test_student_and_staff_are_never_shown_each_others_page(bench: Bench, cast: Cast, client_for, at):
    make_graded_set(bench, at=DAYS_AGO)
    theirs = shown(client_for(cast.ines), reverse("assessments:student", args=[cast.ada.pk]))
    own = shown(client_for(cast.ada), reverse("assessments:stand"))
    assert "Start a set" in theirs and "Start a set" not in own
    assert "How to practise it" in own and "How to practise it" not in theirs


def test_facts_of_two_students_differ(bench: Bench, cast: Cast):
    make_graded_set(bench, at=DAYS_AGO)
    assert stand_facts(cast.ada) != stand_facts(cast.bea)


@pytest.mark.parametrize(
    "model", [Grade, CompetenceDecision, CompetenceRule, MasteryRule, ParameterVersion, BriefVersion]
)
def test_every_row_that_is_only_counted_is_only_added(model: type):
    """A count tells of every write only where no row ever changes."""
    assert issubclass(model, AppendOnly)
