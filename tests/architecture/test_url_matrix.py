"""Every door, tried by everybody: owner, educator, student, nobody; with own objects and foreign ones."""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.conf import settings
from django.db import transaction
from django.http import HttpResponseBase
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoDbBlocker

from academy.models import Cohort, Membership, Role
from academy.selectors.invitations import invitation_token
from academy.services.invitations import invite_person
from assessments.models import RubricVersion
from courses.selectors.enrolments import open_enrolment
from courses.services.feeds import renew_feed
from courses.services.programmes import copy_programme_version
from tests.architecture.doors import (
    DOORS,
    FOUND,
    NOT_ALLOWED,
    NOT_HERE,
    OURS,
    REFUSED,
    url_names,
)
from tests.factories.academy import make_cast, make_cohort, make_member, sign_in
from tests.factories.assessments import (
    STARTED,
    Bench,
    make_finished_set,
    make_graded_set,
    make_inspected_set,
    make_started_set,
)
from tests.factories.certificate_batches import finish_batch, make_batch
from tests.factories.certificates import make_certificate
from tests.factories.courses import make_brief, make_head
from tests.factories.needs import make_need
from tests.factories.plans import make_plan
from tests.factories.programmes import make_hours, next_version
from tests.factories.rota import make_times
from tests.factories.rubrics import rubric_draft
from tests.factories.second_marks import give_second_mark, inspect_second, standard_of

pytestmark = pytest.mark.django_db

Keys = dict[str, dict[str, object]]
ROLES = ("owner", "educator", "student")
# What a form may answer when sent empty: shown again, done, or refused with a sentence; never an error page.
ANSWERS_TO_AN_EMPTY_FORM = {200, 302, 400, 409, 422}
NAMES_AN_OBJECT_IN_ITS_FORM = {"academy:choose"}  # and an empty one names none
WITH_AN_OBJECT = [name for name, door in DOORS.items() if door.about]
WITH_A_FORM = [name for name, door in DOORS.items() if "POST" in door.methods]
# The API reads what was sent before it looks for the set, so it is sent something that can be read.
BODIES = {
    "api:set-events": {
        "events": [{"uid": "5b1c2c4e-7f2e-4c57-9a55-0f6c1b9d2e11", "kind": "pause", "reason": "tea"}]
    },
    "api:set-draft": {"data": {"note": "Nearly there"}},
    "api:second-mark-events": {
        "events": [{"uid": "c0a8f8a4-4d0e-4a3c-8a5d-2f3f0f8f9b77", "kind": "position", "index": 0}]
    },
    "api:second-mark-draft": {"data": {"note": "Nearly there"}},
}


@dataclass(frozen=True, slots=True)
class World:
    """Session keys by role, and what paths may be about: one's own, another student's, the neighbour's.

    ``key_files``: the academies' signing keys, which are taken away after every test.
    """

    sessions: dict[str, str]
    own: Keys
    peer: Keys
    foreign: Keys
    key_files: dict[Path, bytes]


@pytest.fixture(scope="module")
def world(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    with django_db_blocker.unblock(), transaction.atomic():
        yield make_world()
        transaction.set_rollback(True)


@pytest.fixture(autouse=True)
def _signing_keys(world: World) -> None:
    for path, content in world.key_files.items():
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.write_bytes(content)


def test_every_url_has_a_row_in_the_table_of_doors():
    missing = sorted(set(url_names()) - set(DOORS))
    assert not missing, (
        f"No row for {', '.join(missing)}. Add one to tests/architecture/doors.py: who may open it (MEMBERS,"
        " STAFF, OWNER, STUDENT or a Door of its own), what its path is about, and whether it takes a form."
    )


def test_no_row_is_left_over_from_a_url_that_is_gone():
    assert sorted(set(DOORS) - set(url_names())) == []


def test_every_url_has_a_name_of_its_own():
    names = url_names()
    assert [name for name in names if "/" in name or names.count(name) > 1] == []


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", DOORS)
def test_a_signed_in_person_gets_what_the_table_says(world: World, name: str, role: str):
    assert ask(world, role, name, world.own).status_code == getattr(DOORS[name], role)


@pytest.mark.parametrize("name", DOORS)
def test_somebody_not_signed_in_is_sent_to_sign_in_or_refused(world: World, name: str):
    answer = ask(world, "anonymous", name, world.own)
    assert answer.status_code == DOORS[name].anonymous
    if name in OURS and answer.status_code == FOUND:
        assert answer["Location"].startswith(reverse("account_login"))


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", WITH_AN_OBJECT)
def test_the_neighbours_object_does_not_exist_here(world: World, name: str, role: str):
    door = DOORS[name]
    expected = REFUSED if getattr(door, role) == REFUSED else door.foreign
    for method in door.methods:
        assert ask(world, role, name, world.foreign, method).status_code == expected, method


@pytest.mark.parametrize("name", [name for name, door in DOORS.items() if door.peer])
def test_another_students_object_does_not_exist_for_a_student(world: World, name: str):
    assert ask(world, "student", name, world.peer).status_code == DOORS[name].peer
    assert ask(world, "educator", name, world.peer).status_code == DOORS[name].educator


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", WITH_A_FORM)
def test_an_empty_form_is_answered_only_to_those_who_may_send_it(world: World, name: str, role: str):
    status = ask(world, role, name, world.own, "POST").status_code
    closed = {getattr(DOORS[name], role)} & {REFUSED, NOT_HERE}
    expected = closed or ANSWERS_TO_AN_EMPTY_FORM
    assert status in ({NOT_HERE} if name in NAMES_AN_OBJECT_IN_ITS_FORM else expected)


@pytest.mark.parametrize("name", [name for name in WITH_A_FORM if name in OURS])
def test_nobody_sends_a_form_without_signing_in(world: World, name: str):
    assert ask(world, "anonymous", name, world.own, "POST").status_code == DOORS[name].anonymous


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", OURS)
def test_a_door_takes_only_the_methods_in_its_row(world: World, name: str, role: str):
    door = OURS[name]
    refusals = {NOT_ALLOWED, REFUSED} if getattr(door, role) == REFUSED else {NOT_ALLOWED}
    for method in {"GET", "POST", "DELETE"} - set(door.methods):
        assert ask(world, role, name, world.own, method).status_code in refusals, method


@pytest.mark.parametrize("name", [name for name in WITH_AN_OBJECT if name in OURS])
def test_an_object_that_never_was_is_not_found(world: World, name: str):
    door = OURS[name]
    never = {key: _of_nobody(value) for key, value in world.own[door.about].items()}
    role = next(role for role in ROLES if getattr(door, role) != REFUSED)
    assert ask(world, role, name, {door.about: never}).status_code == NOT_HERE


def ask(world: World, role: str, name: str, keys: Keys, method: str = "") -> HttpResponseBase:
    """One request, its effects undone; an error inside the view fails the test with its own traceback."""
    door = DOORS[name]
    client = Client()
    if role in world.sessions:
        client.cookies[settings.SESSION_COOKIE_NAME] = world.sessions[role]
    body = json.dumps(BODIES[name]) if name in BODIES else ""
    kind = "application/json" if body else "application/x-www-form-urlencoded"
    url = reverse(name, kwargs=keys[door.about] if door.about else None)
    with transaction.atomic():
        answer = client.generic(method or door.methods[0], url, body, content_type=kind)
        transaction.set_rollback(True)
    return answer


def make_world() -> World:
    cast = make_cast()
    peers = make_graded_set(_bench(cast.bea, cast.ines, "Bea")).practice_set
    people = {"owner": cast.owner, "educator": cast.ines, "student": cast.ada}
    return World(
        sessions={role: _session(member) for role, member in people.items()},
        own=_objects(cast.ada, cast.ines, cast.cohort),
        peer={
            "graded set": {"uid": peers.uid},
            "certificate": {"certificate_id": make_certificate(cast.bea, cast.ines).pk},
            **make_times(cast.bea, cast.ines),
        },
        foreign=_objects(cast.omar_student, cast.omar, make_cohort(cast.other_academy)),
        key_files={path: path.read_bytes() for path in settings.KEYS_DIR.glob("*/*.pem")},
    )


def _objects(student: Membership, educator: Membership, cohort: Cohort) -> Keys:
    """One of everything a path can name, in one academy."""
    brief_id = make_brief(educator.academy, educator, name="Spare brief").brief_id
    return {
        **_people(student, educator, cohort),
        **_rubric(educator),
        **_certificate(student, educator),  # before a set that this educator marks blind
        **_marked_twice(student, educator),  # before the set that stays under way
        **_sets(student, educator),
        **_programme(student, educator),
        **make_times(student, educator),
        "need": {"need_id": make_need(student, educator).pk},
        "plan": {"uid": make_plan(educator).uid},
        # Of a cohort in which this educator marks nobody blind.
        "batch": {"uid": finish_batch(make_batch(make_cohort(educator.academy, "Alumni"), educator)).uid},
        "head": {"head_id": make_head(educator.academy, "Spare head").pk},
        "brief": {"brief_id": brief_id},
        "brief supplies": {"brief_id": brief_id, "number": 1, "nth_set": 1, "students": 8},
        "gate skill": {"skill": "isolation"},
        "reset key": {"uidb36": "1", "key": "no-such-key"},
        "passkey": {"pk": 1},
    }


def _people(student: Membership, educator: Membership, cohort: Cohort) -> Keys:
    academy = educator.academy
    invitation = invite_person(
        actor=educator,
        name="Nell Frayne",
        email=f"nell@{academy.pk}.example",
        role=Role.STUDENT,
        cohort=cohort,
        now=STARTED,
    )
    # The link of an invitation lasts a week from now; the doors read the clock.
    invitation.expires_at += timedelta(days=36_500)
    invitation.save()
    return {
        "member": {"member_id": make_member(academy, f"Lea Voss {academy.pk}", cohort=cohort).pk},
        "student": {"student_id": student.pk},
        "cohort": {"cohort_id": cohort.pk},
        "invitation": {"invitation_id": invitation.pk},
        "token": {"token": invitation_token(invitation)},
        "feed": {"token": renew_feed(member=student, now=STARTED)},
    }


def _rubric(educator: Membership) -> Keys:
    draft = RubricVersion.objects.filter(rubric__academy=educator.academy, published_at=None).first()
    draft = draft or rubric_draft(educator.academy, educator)
    published = draft.rubric.versions.exclude(pk=draft.pk).get()
    return {
        "published version": {"version_id": published.pk},
        "draft version": {"version_id": draft.pk},
        "draft criterion": {"criterion_id": draft.criteria.all()[0].pk},
    }


def _programme(student: Membership, educator: Membership) -> Keys:
    """A newer version of the programme the student is on, and the draft after it."""
    enrolment = open_enrolment(student)
    assert enrolment is not None
    newer = next_version(enrolment.version, educator)
    draft = copy_programme_version(version=newer, actor=educator, now=STARTED)
    return {
        "programme version": {"version_id": newer.pk},
        "programme draft": {"version_id": draft.pk},
        "move to a newer version": {"student_id": student.pk, "version_id": newer.pk},
        "hours entry": {"entry_id": make_hours(enrolment, educator).pk},
    }


def _certificate(student: Membership, educator: Membership) -> Keys:
    """Issued before the sets that the educator is to mark blind: she may read it."""
    worked = STARTED - timedelta(days=7)
    made = make_certificate(student, educator, worked_at=worked, at=worked + timedelta(hours=12))
    academy_id = made.academy_id
    return {
        "certificate": {"certificate_id": made.pk},
        "new student": {"student_id": make_member(educator.academy, f"Ivy Dunne {academy_id}").pk},
        "code": {"code": made.code},
        "key": {"thumbprint": made.key_thumbprint},
        "school": {"academy_id": academy_id},
        "certified programme": {"academy_id": academy_id, "version_id": made.enrolment.version_id},
        "status list": {"academy_id": academy_id, "purpose": "revocation", "number": made.status_list},
    }


def _sets(student: Membership, educator: Membership) -> Keys:
    makers: dict[str, Callable[..., Any]] = {
        "graded set": make_graded_set,
        "inspected set": make_inspected_set,
        "finished set": make_finished_set,
        "working set": make_started_set,
    }
    found: Keys = {}
    for nth, (name, make) in enumerate(makers.items()):
        made = make(_bench(student, educator, name), at=STARTED + timedelta(days=nth))
        found[name] = {"uid": getattr(made, "practice_set", made).uid}
    return found


def _marked_twice(student: Membership, educator: Membership) -> Keys:
    """Second marks that wait for the educator, and a standard set; somebody else marked them first."""
    first = make_member(educator.academy, f"Rhea Quill {educator.academy_id}", Role.EDUCATOR)
    grades = [
        make_graded_set(_bench(student, first, f"twice {nth}"), at=STARTED - timedelta(days=6 - nth))
        for nth in range(3)
    ]
    return {
        "second mark": {"uid": give_second_mark(grades[0], educator).uid},
        "inspected second mark": {"uid": inspect_second(give_second_mark(grades[1], educator)).uid},
        "standard set": {"uid": standard_of(grades[2], first).uid},
    }


def _bench(student: Membership, educator: Membership, name: str) -> Bench:
    academy = educator.academy
    if not academy.rubrics.exists():
        rubric_draft(academy, educator)
    return Bench(student, educator, make_brief(academy, educator, name=name), make_head(academy, name))


def _session(member: Membership) -> str:
    client = Client()
    sign_in(client, member)
    return client.cookies[settings.SESSION_COOKIE_NAME].value


def _of_nobody(value: object) -> object:
    if isinstance(value, UUID):
        return uuid4()
    return 987_654_321 if isinstance(value, int) else "no-such-token"
