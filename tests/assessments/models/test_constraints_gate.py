"""The last line of defence of the gate to live models: every rule of the database bites."""

from collections.abc import Callable

import pytest
from django.db import connection

from assessments.models import GateClosing, GateOpening, GateSignature, GateStanding
from assessments.services.gate import close_gate
from tests.assessments.models.constraints import again, bitten, change, first
from tests.factories.academy import Cast
from tests.factories.gate import READY_AT, make_open_gate

Attempt = Callable[[Cast], None]

CASES: dict[str, list[Attempt]] = {
    "gate_signature_by_its_side": [
        lambda cast: change(first(GateSignature, side="student"), signed_by_id=cast.ines.pk),
        lambda cast: change(first(GateSignature, side="educator"), signed_by_id=cast.ada.pk),
        lambda cast: change(first(GateSignature, side="student"), side="owner"),
    ],
    "gate_opening_number_once": [
        lambda cast: again(first(GateOpening), student_signature_id=-1, educator_signature_id=-2)
    ],
    "gate_opening_takes_two_signatures": [
        lambda cast: change(
            first(GateOpening), educator_signature_id=GateSignature.objects.get(side="student").pk
        )
    ],
    "gate_closing_by_hand_names_who": [
        lambda cast: change(first(GateClosing), by=None),
        lambda cast: change(first(GateClosing), kind="lapse"),
        lambda cast: change(first(GateClosing), kind="tired"),
    ],
    "gate_closing_says_why": [lambda cast: change(first(GateClosing), words="")],
    "gate_standing_known_state": [lambda cast: change(first(GateStanding), state="ajar")],
    "gate_standing_met_within_asked": [lambda cast: change(first(GateStanding), met=11, asked=10)],
}
# Fields that are unique by themselves, by table and column.
ALONE: dict[str, Attempt] = {
    "assessments_gateopening.student_signature_id": lambda cast: again(
        first(GateOpening), number=2, educator_signature_id=0
    ),
    "assessments_gateopening.educator_signature_id": lambda cast: again(
        first(GateOpening), number=2, student_signature_id=0
    ),
    "assessments_gateclosing.opening_id": lambda cast: again(first(GateClosing)),
    "assessments_gatestanding.student_id": lambda cast: again(first(GateStanding)),
}


@pytest.fixture
def opened(cast: Cast) -> Cast:
    """Ada's gate was opened by two signatures and closed by hand."""
    make_open_gate(cast)
    close_gate(student=cast.ada, actor=cast.ines, reason="Eye pain reported.", now=READY_AT)
    return cast


def test_every_constraint_bites_by_its_own_name(opened: Cast):
    answers = {name: [bitten(attempt, opened) for attempt in attempts] for name, attempts in CASES.items()}
    assert [name for name, said in answers.items() if not all(said)] == []
    if connection.vendor == "postgresql":
        assert {name: said for name, said in answers.items() if set(said) != {name}} == {}


def test_every_field_that_is_unique_alone_bites(opened: Cast):
    answers = {name: bitten(attempt, opened) for name, attempt in ALONE.items()}
    assert [name for name, said in answers.items() if name.split(".")[1] not in said] == []


def test_no_constraint_of_these_tables_is_left_untried():
    mine = [GateSignature, GateOpening, GateClosing, GateStanding]
    assert {rule.name for model in mine for rule in model._meta.constraints} == set(CASES)
