"""A consent is given and withdrawn by the person herself, in the words of the day, and nothing is lost."""

import pytest

from academy.models import AuditEntry, Consent, Purpose, RecordIsFinal
from academy.selectors.consents import consents_of
from academy.services import consents
from academy.services.consents import NotYoursToGive, UnknownPurpose, answer_consent

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def asked(monkeypatch) -> list[tuple[str, int]]:
    told: list[tuple[str, int]] = []
    monkeypatch.setattr(consents, "enqueue", lambda path, *, student_id: told.append((path, student_id)))
    return told


def answer(member, now, *, given=True, purpose="assessment_record", actor=None):
    return answer_consent(member=member, purpose=purpose, given=given, actor=actor or member, now=now)


def test_a_yes_is_kept_with_its_wording_and_an_audit_entry(cast, now, asked):
    row = answer(cast.ada, now)
    assert (row.given, row.wording_version, row.recorded_by, row.at) == (True, "1", cast.ada, now)
    entry = AuditEntry.objects.get(action="answer_consent")
    assert entry.after == {"purpose": "assessment_record", "given": True}
    assert asked == [("assessments.tasks.watch_gate", cast.ada.pk)]


def test_a_withdrawal_is_a_new_row_and_counts(cast, now):
    answer(cast.ada, now)
    answer(cast.ada, now, given=False)
    assert list(Consent.objects.values_list("given", flat=True)) == [True, False]
    assert not consents_of(cast.ada)["assessment_record"].given


def test_the_same_answer_twice_is_kept_once(cast, now, asked):
    assert answer(cast.ada, now)
    assert answer(cast.ada, now) is None
    assert len(asked) == Consent.objects.count() == 1


def test_nothing_is_withdrawn_that_was_never_given(cast, now):
    assert answer(cast.ada, now, given=False) is None


@pytest.mark.parametrize("who", ["owner", "ines", "bea", "omar"])
def test_nobody_else_answers_for_her(cast, now, who):
    with pytest.raises(NotYoursToGive):
        answer(cast.ada, now, actor=getattr(cast, who))
    assert not Consent.objects.exists()


def test_an_unknown_purpose_is_refused(cast, now):
    with pytest.raises(UnknownPurpose):
        answer(cast.ada, now, purpose="hat_size")


@pytest.mark.parametrize("purpose", Purpose.values)
def test_every_purpose_is_answered_alone(cast, now, purpose):
    answer(cast.ada, now, purpose=purpose)
    given = {name for name, state in consents_of(cast.ada).items() if state.given}
    assert given == {purpose}


def test_an_answer_never_changes(cast, now):
    row = answer(cast.ada, now)
    row.given = False
    with pytest.raises(RecordIsFinal):
        row.save()
    with pytest.raises(RecordIsFinal):
        Consent.objects.all().delete()
