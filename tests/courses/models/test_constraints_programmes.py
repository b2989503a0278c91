"""The last line of defence: what the database itself refuses of programmes, enrolments and hours."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.db import connection

from academy.models import Membership
from courses.models import (
    Enrolment,
    EnrolmentMove,
    HoursEntry,
    Programme,
    ProgrammeUnit,
    ProgrammeVersion,
    UnitSignOff,
)
from courses.services.enrolments import move_enrolment
from courses.services.hours import HoursContent, correct_hours
from courses.services.programmes import copy_programme_version
from courses.services.sign_offs import sign_off
from tests.assessments.models.constraints import again, bitten, change, first
from tests.factories.academy import JOINED, Cast
from tests.factories.programmes import ATTENDED, make_enrolment, make_hours, make_programme, next_version

MODELS = (Programme, ProgrammeVersion, ProgrammeUnit, Enrolment, EnrolmentMove, UnitSignOff, HoursEntry)


@dataclass(frozen=True, slots=True)
class World:
    """Ada moved to a newer version, with a corrected entry and a sign-off; a draft follows."""

    old: ProgrammeVersion
    published: ProgrammeVersion
    draft: ProgrammeVersion
    enrolment: Enrolment
    entry: HoursEntry
    correction: HoursEntry
    bea: Membership


@pytest.fixture
def world(cast: Cast) -> World:
    old = make_programme(cast.owner)
    enrolment = make_enrolment(cast.ada, cast.owner, old)
    units = list(old.units.all())[:1]
    sign_off(enrolment=enrolment, units=units, passed=True, actor=cast.ines, now=JOINED)
    entry = make_hours(enrolment, cast.ines)
    later = JOINED + timedelta(days=1)
    content = HoursContent(kind="theory", minutes=60, on=ATTENDED)
    correction = correct_hours(entry=entry, content=content, reason="why", actor=cast.ines, now=later)
    newer = next_version(old, cast.owner)
    move_enrolment(enrolment=enrolment, version=newer, reason="why", actor=cast.owner, now=later)
    draft = copy_programme_version(version=newer, actor=cast.owner, now=later)
    enrolment.refresh_from_db()
    return World(old, newer, draft, enrolment, entry, correction, cast.bea)


CASES: dict[str, list[Callable[[World], None]]] = {
    "programme_name_once_per_academy": [
        lambda w: again(w.old.programme),
        lambda w: again(w.old.programme, name=w.old.programme.name.upper()),
    ],
    "programme_version_number_once": [lambda w: again(w.published)],
    "programme_one_draft_at_a_time": [lambda w: again(w.draft, number=9)],
    "programme_theory_hours_range": [
        lambda w: change(w.draft, theory_hours="-0.01"),
        lambda w: change(w.draft, theory_hours="9999.01"),
    ],
    "programme_practical_hours_range": [
        lambda w: change(w.draft, practical_hours="-0.01"),
        lambda w: change(w.draft, practical_hours="9999.01"),
    ],
    "programme_published_with_hours_and_source": [
        lambda w: change(w.published, theory_hours=None),
        lambda w: change(w.published, practical_hours=None),
        lambda w: change(w.published, hours_source=""),
        lambda w: change(w.published, hours_source_on=None),
        lambda w: change(w.published, published_by=None),
    ],
    "programme_unit_code_once": [lambda w: again(w.draft.units.first(), position=9)],
    "programme_unit_position_once": [lambda w: again(w.draft.units.first(), code="other")],
    "programme_unit_known_kind": [lambda w: change(w.draft.units.first(), kind="talk")],
    "enrolment_one_open_per_student": [lambda w: again(w.enrolment)],
    "enrolment_ends_after_it_began": [
        lambda w: change(w.enrolment, ended_at=w.enrolment.enrolled_at - timedelta(seconds=1))
    ],
    "enrolment_move_goes_somewhere": [lambda w: change(first(EnrolmentMove), from_version=w.published)],
    "enrolment_move_has_reason": [lambda w: change(first(EnrolmentMove), reason="")],
    "sign_off_not_passed_says_what_is_missing": [lambda w: change(first(UnitSignOff), passed=False, note="")],
    "hours_known_kind": [lambda w: change(w.entry, kind="nap")],
    "hours_within_a_day": [
        lambda w: change(w.entry, minutes=0),
        lambda w: change(w.entry, minutes=1441),
        lambda w: change(w.correction, minutes=1441),
    ],
    "hours_correction_has_reason": [
        lambda w: change(w.correction, reason=""),
        lambda w: change(w.entry, reason="why"),
    ],
}


def test_every_constraint_bites_by_its_own_name(world: World):
    answers = {name: [bitten(attempt, world) for attempt in attempts] for name, attempts in CASES.items()}
    assert [name for name, said in answers.items() if not all(said)] == []
    if connection.vendor == "postgresql":
        assert {name: said for name, said in answers.items() if set(said) != {name}} == {}


def test_an_entry_is_corrected_once(world: World):
    assert "corrects" in bitten(lambda w: again(w.correction), world)


def test_an_ended_enrolment_stands_beside_an_open_one(world: World):
    again(world.enrolment, ended_at=JOINED + timedelta(days=2))
    assert Enrolment.objects.filter(student=world.enrolment.student).count() == 2


def test_a_correction_may_take_all_minutes_back(world: World):
    change(world.correction, minutes=0)


def test_no_constraint_of_these_models_is_left_untried():
    assert {each.name for model in MODELS for each in model._meta.constraints} == set(CASES)
