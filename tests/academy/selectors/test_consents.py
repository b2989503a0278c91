"""Every purpose with its words and the newest answer."""

import pytest

from academy.models import Consent, Purpose
from academy.selectors.consents import consents_of
from academy.words import CONSENT_WORDINGS, NEWEST_WORDING, Wording

pytestmark = pytest.mark.django_db


def row(cast, now, **changes):
    values = {"member": cast.ada, "purpose": "publicity", "wording_version": "1", "given": True}
    return Consent.objects.create(**{**values, "recorded_by": cast.ada, "at": now, **changes})


def test_every_purpose_has_words_in_every_wording():
    assert NEWEST_WORDING in CONSENT_WORDINGS
    for wordings in CONSENT_WORDINGS.values():
        assert list(wordings) == Purpose.values
        assert all(each.name and each.text and each.withdrawal for each in wordings.values())


def test_nobody_has_answered_yet(cast):
    found = consents_of(cast.ada)
    assert list(found) == Purpose.values
    assert not any(state.given or state.newest for state in found.values())


def test_the_newest_answer_of_a_purpose_counts(cast, now):
    row(cast, now)
    newest = row(cast, now, given=False)
    state = consents_of(cast.ada)["publicity"]
    assert (state.newest, state.given) == (newest, False)


def test_answers_of_somebody_else_do_not_count(cast, now):
    row(cast, now)
    assert not consents_of(cast.bea)["publicity"].given


def test_an_answer_to_earlier_words_shows_them(cast, now, monkeypatch):
    earlier = {**CONSENT_WORDINGS["1"], "publicity": Wording("Publicity", "Earlier words.", "Gone.")}
    monkeypatch.setitem(CONSENT_WORDINGS, "0", earlier)
    row(cast, now, wording_version="0")
    state = consents_of(cast.ada)["publicity"]
    assert state.agreed_to and state.agreed_to.text == "Earlier words."
    row(cast, now)
    assert consents_of(cast.ada)["publicity"].agreed_to is None


def test_it_costs_one_query(cast, now, django_assert_num_queries):
    row(cast, now)
    with django_assert_num_queries(1):
        consents_of(cast.ada)
