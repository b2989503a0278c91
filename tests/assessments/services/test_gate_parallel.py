"""Two people sign, and a condition falls away at the same instant, on the database that many share."""

from collections.abc import Callable
from datetime import timedelta
from functools import partial

import pytest

from academy.errors import DomainError
from academy.services import consents
from academy.services.consents import answer_consent
from assessments.models import GateClosing, GateOpening, GateSignature
from assessments.selectors.readiness import readiness_of
from assessments.services import marking
from assessments.services.gate import AlreadySignedGate, sign_gate, watch_gate
from tests.factories.academy import Cast
from tests.factories.gate import READY_AT, make_gate_ready, make_open_gate, signed_by
from tests.factories.gate_falls import marks_corrected
from tests.factories.parallel import at_once

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]

SOON = READY_AT + timedelta(days=1)
ROUNDS = 5


@pytest.fixture(autouse=True)
def _nothing_queued(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(marking, "enqueue", lambda path, **keys: None)
    monkeypatch.setattr(consents, "enqueue", lambda path, **keys: None)


def signing(cast: Cast, name: str) -> Callable[[], object]:
    seen = readiness_of(cast.ada, now=SOON).basis
    return partial(sign_gate, student=cast.ada, actor=getattr(cast, name), seen=seen, now=SOON)


def consent_says(cast: Cast, given: bool) -> Callable[[], object]:
    return partial(
        answer_consent, member=cast.ada, purpose="assessment_record", given=given, actor=cast.ada, now=SOON
    )


def assert_open_only_with_everything_met(cast: Cast) -> None:
    found = readiness_of(cast.ada, now=SOON)
    assert found.is_open == bool(GateOpening.objects.filter(closing=None) and found.is_gate_met)


def test_both_sides_sign_at_once_and_it_opens_once(cast: Cast):
    make_gate_ready(cast)
    answers = at_once(signing(cast, "ada"), signing(cast, "ines"))
    assert not [answer for answer in answers if isinstance(answer, DomainError)]
    opening = GateOpening.objects.get()
    assert {opening.student_signature.side, opening.educator_signature.side} == {"student", "educator"}
    assert readiness_of(cast.ada, now=SOON).is_open


def test_two_educators_sign_at_once_and_one_is_told(cast: Cast):
    make_gate_ready(cast)
    answers = at_once(signing(cast, "ines"), signing(cast, "owner"))
    assert [type(answer) for answer in answers if isinstance(answer, DomainError)] == [AlreadySignedGate]
    assert (GateSignature.objects.count(), GateOpening.objects.count()) == (1, 0)


def test_a_consent_withdrawn_at_the_instant_of_the_second_signature_leaves_no_open_gate(cast: Cast):
    """Whoever comes first: either the signature is refused, or the gate it opened is shut again."""
    make_gate_ready(cast)
    for _ in range(ROUNDS):
        signed_by(cast.ada, cast.ada, at=SOON)
        at_once(signing(cast, "ines"), consent_says(cast, given=False))
        assert_open_only_with_everything_met(cast)
        assert readiness_of(cast.ada, now=SOON).gate_state == "shut"
        watch_gate(student=cast.ada, now=SOON)
        assert not GateOpening.objects.filter(closing=None).exists()
        consent_says(cast, given=True)()


def test_marks_corrected_at_the_instant_of_the_second_signature_leave_no_open_gate(cast: Cast):
    enrolment = make_gate_ready(cast)
    signed_by(cast.ada, cast.ada, at=SOON)
    at_once(signing(cast, "ines"), partial(marks_corrected, cast, enrolment, SOON))
    assert readiness_of(cast.ada, now=SOON).gate_state == "shut"
    assert_open_only_with_everything_met(cast)
    assert not GateOpening.objects.filter(closing=None).exists(), "the correction itself closes it"


def test_a_lapse_is_written_down_once_however_many_look(cast: Cast):
    make_open_gate(cast)
    late = READY_AT + timedelta(days=200)
    at_once(*[partial(watch_gate, student=cast.ada, now=late)] * 3)
    assert GateClosing.objects.get().kind == "lapse"
