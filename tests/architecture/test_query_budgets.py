"""Every list asks the database as often for one row as for twenty, and keeps to its budget."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from academy.models import Cohort, Membership, Role, User
from academy.services.invitations import invite_person
from assessments.models import GateStanding
from assessments.scoring.programme_rules import PRESETS
from assessments.services.competence import change_rule
from assessments.services.rubrics import copy_rubric_version, publish_rubric_version
from courses.models import Skill
from courses.programme.content import Unit
from courses.selectors.enrolments import open_enrolment
from courses.services.sign_offs import sign_off
from tests.architecture.doors import OURS
from tests.factories.academy import JOINED, Cast, make_cast, make_cohort, make_member, sign_in
from tests.factories.assessments import (
    STARTED,
    Bench,
    make_finished_set,
    make_graded_set,
    make_inspected_set,
    make_started_set,
)
from tests.factories.certificate_batches import make_batch
from tests.factories.certificates import put_certificate
from tests.factories.courses import make_brief, make_head
from tests.factories.needs import make_need
from tests.factories.plans import make_plan
from tests.factories.programmes import (
    ATTENDED,
    make_enrolment,
    make_hours,
    make_programme,
    next_version,
)
from tests.factories.rota import make_rota_rows
from tests.factories.rubrics import starter_rubric
from tests.factories.second_marks import give_second_mark, standard_of

pytestmark = pytest.mark.django_db

# The most queries each list may cost, session and place included. Pages that show no rows are not lists.
BUDGETS = {
    "academy:people": 8,
    "courses:catalogue": 6,
    "courses:head-list": 5,
    "courses:brief-list": 7,
    "courses:programme-list": 6,
    "courses:programme-version": 7,
    "courses:programme-enrol": 7,
    "courses:enrolment": 13,
    "courses:enrolment-units": 7,
    "courses:hours-group": 6,
    "courses:my-programme": 10,
    "courses:rota": 9,
    "courses:agenda": 8,
    "courses:rota-setup": 12,
    "courses:my-times": 7,
    "courses:free-times": 6,
    "assessments:booking-new": 20,
    "assessments:my-booking-new": 18,
    "assessments:today": 17,
    "assessments:student-list": 12,
    "assessments:student": 18,
    "assessments:student-sets": 8,
    "assessments:stand": 16,
    "assessments:next": 22,
    "assessments:need-list": 9,
    "assessments:plan-list": 5,
    "assessments:student-needs": 18,
    "assessments:my-sets": 6,
    "assessments:bench-new": 10,
    "assessments:agreement": 10,
    "assessments:competence-rules": 6,
    "assessments:certificate-list": 7,
    "assessments:certificate-batch-list": 6,
    "assessments:my-certificates": 5,
    "assessments:rubric-list": 5,
    "assessments:rubric-version": 8,
}
OF_STUDENTS = {
    *("assessments:stand", "assessments:next", "assessments:my-sets", "assessments:my-certificates"),
    *("courses:my-programme", "courses:my-times", "courses:free-times", "assessments:my-booking-new"),
}
OF_ADA = {
    *("assessments:student", "assessments:student-sets", "assessments:student-needs"),
    *("courses:enrolment", "courses:enrolment-units"),
}
ROWS = 20
Counts = dict[str, int]


@dataclass(frozen=True, slots=True)
class Measured:
    """Queries of every list: with one row of everything, with twenty, and with 200 students more."""

    one: Counts
    twenty: Counts
    crowd: Counts


@pytest.fixture(scope="module")
def counts(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Measured]:
    with django_db_blocker.unblock(), transaction.atomic():
        cast = make_cast()
        starter_rubric(cast.academy, cast.owner)
        _add_rows(cast, 0)
        with_one = _counts(cast)
        for nth in range(1, ROWS):
            _add_rows(cast, nth)
        with_twenty = _counts(cast)
        _add_students(cast.cohort, 200)
        yield Measured(with_one, with_twenty, _counts(cast))
        transaction.set_rollback(True)


@pytest.mark.parametrize("name", BUDGETS)
def test_a_list_costs_the_same_with_twenty_rows_as_with_one(counts: Measured, name: str):
    assert counts.twenty[name] == counts.one[name]


@pytest.mark.parametrize("name", BUDGETS)
def test_two_hundred_students_more_cost_not_one_query_more(counts: Measured, name: str):
    assert counts.crowd[name] == counts.twenty[name]


@pytest.mark.parametrize("name", BUDGETS)
def test_a_list_keeps_to_its_budget(counts: Measured, name: str):
    assert 0 < counts.twenty[name] <= BUDGETS[name]


def test_every_page_that_lists_rows_has_a_budget():
    lists = {name for name in OURS if name.endswith(("-list", "-sets"))}
    assert sorted(lists - set(BUDGETS)) == [], (
        "Add each of these to BUDGETS, with the most queries it may cost."
    )


def _counts(cast: Cast) -> Counts:
    return {name: _count(cast.ada if name in OF_STUDENTS else cast.owner, name, cast) for name in BUDGETS}


def _count(member: Membership, name: str, cast: Cast) -> int:
    """The page once to warm what a process keeps, then once counted."""
    client = Client()
    sign_in(client, member)
    url, query = reverse(name, kwargs=_keys(name, cast)), _asked(name, cast)
    assert client.get(url, query).status_code == 200
    with CaptureQueriesContext(connection) as asked:
        client.get(url, query)
    return len(asked)


def _keys(name: str, cast: Cast) -> dict[str, int]:
    if name in OF_ADA:
        return {"student_id": cast.ada.pk}
    if name == "courses:programme-version":
        return {"version_id": cast.academy.programmes.order_by("pk")[0].versions.order_by("number")[0].pk}
    if name == "assessments:rubric-version":
        return {"version_id": cast.academy.rubrics.get().versions.order_by("number")[0].pk}
    return {}


def _asked(name: str, cast: Cast) -> dict[str, Any]:
    """What the page is asked: times are looked for only when it is known for whom."""
    if not name.endswith("booking-new"):
        return {}
    kind = cast.academy.session_kinds.order_by("pk")[0]
    return {"student": cast.ada.pk, "kind": kind.pk, "first_on": timezone.now().date()}


def _add_rows(cast: Cast, nth: int) -> None:
    """One more of everything that a list shows."""
    cohort = make_cohort(cast.academy, f"Cohort {nth}")
    invite_person(
        actor=cast.owner,
        name=f"Guest {nth}",
        email=f"guest{nth}@people.example",
        role=Role.STUDENT,
        cohort=cohort,
        now=STARTED,
    )
    _add_rubric_version(cast)
    _add_programme(cast, nth)
    _add_rule(cast, nth)
    make_batch(cohort, cast.owner)
    make_need(cast.ada, cast.ines, nth)
    make_rota_rows(cast, nth)
    make_plan(cast.ines)
    day = STARTED + timedelta(days=nth)
    grade = make_graded_set(_bench(cast, cast.ada, f"Ada {nth}"), at=day)
    standard_of(grade, cast.owner)
    for state, make in (
        ("working", make_started_set),
        ("finished", make_finished_set),
        ("inspected", make_inspected_set),
    ):
        student = make_member(cast.academy, f"Pupil {state} {nth}", cohort=cohort)
        make(_bench(cast, student, f"{state} {nth}"), at=day)
    student = make_member(cast.academy, f"Pupil graded {nth}", cohort=cohort)
    give_second_mark(make_graded_set(_bench(cast, student, f"graded {nth}"), at=day), cast.owner)


def _add_rule(cast: Cast, nth: int) -> None:
    """A newer version of the rule of every gate skill."""
    preset = PRESETS["long_course" if nth % 2 else "short_course"]
    for skill in Skill.objects.filter(is_gate=True):
        change_rule(academy=cast.academy, skill=skill, programme=preset, actor=cast.owner, now=STARTED)


def _add_programme(cast: Cast, nth: int) -> None:
    """A newer version with one more unit, a student on the first; hours and a sign-off of Ada."""
    programme = cast.academy.programmes.order_by("pk").first()
    newest = programme.versions.all()[0] if programme else make_programme(cast.owner)
    units = newest.content.units
    next_version(newest, cast.owner, units=(*units, Unit(f"Unit {nth}", "theory")))
    enrolment = open_enrolment(cast.ada) or make_enrolment(cast.ada, cast.owner, newest)
    make_hours(enrolment, cast.ines, on=ATTENDED + timedelta(days=nth), minutes=60)
    seen = [enrolment.version.units.all()[0]]
    sign_off(enrolment=enrolment, units=seen, passed=True, actor=cast.ines, now=STARTED)
    student = make_member(cast.academy, f"Pupil enrolled {nth}", cohort=make_cohort(cast.academy, f"C{nth}"))
    ready = make_enrolment(student, cast.owner, enrolment.version)
    GateStanding.objects.create(
        student=ready.student, state="shut", met=0, asked=0, certificate_ready=True, at=STARTED
    )
    put_certificate(enrolment, cast.ines)


def _add_rubric_version(cast: Cast) -> None:
    newest = cast.academy.rubrics.get().versions.order_by("-number")[0]
    draft = copy_rubric_version(version=newest, actor=cast.owner, now=STARTED)
    publish_rubric_version(version=draft, actor=cast.owner, now=STARTED)


def _bench(cast: Cast, student: Membership, name: str) -> Bench:
    brief = make_brief(cast.academy, cast.owner, name=name)
    head = make_head(cast.academy, name, strip_fitted_on=date(2026, 1, 5))
    return Bench(student, cast.ines, brief, head)


def _add_students(cohort: Cohort, count: int) -> None:
    already = User.objects.count()
    users = User.objects.bulk_create(
        User(email=f"many{already + nth}@people.example", name=f"Student {already + nth}")
        for nth in range(count)
    )
    Membership.objects.bulk_create(
        Membership(academy=cohort.academy, user=user, role=Role.STUDENT, cohort=cohort, joined_at=JOINED)
        for user in users
    )
