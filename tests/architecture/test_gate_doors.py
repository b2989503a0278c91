"""No door of the house, and nobody behind it, opens the gate to live models with a condition unmet."""

import ast
import json
from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client
from django.urls import get_resolver, reverse
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from academy.models import Membership
from assessments.models import GateOpening
from assessments.selectors.readiness import readiness_of
from courses.programme.content import Gate
from courses.services.enrolments import enrol
from tests.architecture.doors import OURS
from tests.architecture.house import APPS, python_files, short
from tests.architecture.test_url_matrix import BODIES, ROLES, World, make_world
from tests.factories.academy import JOINED
from tests.factories.gate import consent, gate_programme, pass_unit, signed_by

pytestmark = pytest.mark.django_db

METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
# Met by the sets of the world, whatever the year; the consent is what falls away.
WORLD_GATE = Gate(hygiene_sets=1, competence=False, mastery=False, blind_mark=False, lapse_days=3660)
# Everything that a form of the house, or somebody who guesses, might send.
GUESSES = {
    "answer": "no",
    "purpose": "assessment_record",
    "reason": "let me in",
    "state": "open",
    "gate_state": "open",
    "side": "educator",
    "met": "1",
}


@dataclass(frozen=True, slots=True)
class HalfSigned:
    """Ada has signed for the gate; then she withdrew her consent."""

    world: World
    ada: Membership
    basis: str


@pytest.fixture(scope="module")
def half(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[HalfSigned]:
    with django_db_blocker.unblock(), transaction.atomic():
        yield make_half_signed()
        transaction.set_rollback(True)


def make_half_signed() -> HalfSigned:
    world = make_world()
    ada = Membership.objects.get(user__name="Ada Marsh")
    owner = Membership.objects.get(academy=ada.academy, role="owner")
    ada.enrolments.update(ended_at=JOINED, enrolled_at=JOINED)
    version = gate_programme(owner, gate=WORLD_GATE, name="Course of the doors")
    enrolment = enrol(student=ada, version=version, actor=owner, now=JOINED)
    pass_unit(enrolment, owner)
    now = timezone.now()
    consent(ada, at=now)
    assert signed_by(ada, ada, at=now).gate_state == "waiting_for_educator"
    consent(ada, given=False, at=now)
    return HalfSigned(world, ada, readiness_of(ada, now=now).basis)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("role", ROLES)
def test_no_request_of_anybody_opens_it(half: HalfSigned, role: str, method: str):
    opened = [name for name in OURS if _opens(half, role, name, method)]
    assert opened == []


def test_the_same_walk_finds_the_door_once_every_condition_is_met_again(half: HalfSigned):
    with transaction.atomic():
        now = timezone.now()
        consent(half.ada, at=now)
        basis = signed_by(half.ada, half.ada, at=now).basis
        opening = [name for name in OURS if _opens(half, "owner", name, "POST", basis)]
        transaction.set_rollback(True)
    assert opening == ["assessments:gate-sign"]


def test_there_is_no_admin_to_go_around_the_services():
    assert "django.contrib.admin" not in settings.INSTALLED_APPS
    assert not [name for name in get_resolver().namespace_dict if name == "admin"]


def test_only_the_service_of_the_gate_writes_signatures_and_openings():
    writers = {
        short(path)
        for path in python_files(*APPS)
        for node in ast.walk(ast.parse(path.read_text()))
        if _writes(node, {"GateSignature", "GateOpening"})
    }
    assert writers == {"assessments/services/gate.py"}


def _opens(half: HalfSigned, role: str, name: str, method: str, basis: str = "") -> bool:
    """Whether one request, its effects undone afterwards, leaves Ada's gate open."""
    door = OURS[name]
    client = Client(raise_request_exception=False)
    client.cookies[settings.SESSION_COOKIE_NAME] = half.world.sessions[role]
    url = reverse(name, kwargs=half.world.own[door.about] if door.about else None)
    with transaction.atomic():
        _send(client, method, url, name, basis or half.basis)
        is_open = GateOpening.objects.filter(student=half.ada).exists()  # there was none before
        transaction.set_rollback(True)
    return is_open


def _send(client: Client, method: str, url: str, name: str, basis: str) -> None:
    if name.startswith("api:"):
        client.generic(method, url, json.dumps(BODIES.get(name, GUESSES)), content_type="application/json")
    else:
        body = urlencode({**GUESSES, "basis": basis})
        client.generic(method, url, body, content_type="application/x-www-form-urlencoded")


def _writes(node: ast.AST, models: set[str]) -> bool:
    """A call of the model itself, or of something of its manager that adds or changes rows."""
    if not isinstance(node, ast.Call):
        return False
    if isinstance(node.func, ast.Name):
        return node.func.id in models
    names = {each.id for each in ast.walk(node.func) if isinstance(each, ast.Name)}
    writing = {
        "create",
        "bulk_create",
        "get_or_create",
        "update_or_create",
        "update",
        "bulk_update",
        "delete",
    }
    return isinstance(node.func, ast.Attribute) and node.func.attr in writing and bool(names & models)
