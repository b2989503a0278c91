"""What anybody may know: by code or by file, in one word."""

from datetime import timedelta

import pytest

from assessments.models import Certificate
from assessments.scoring.certificate_state import State
from assessments.selectors.certificate_checks import SENTENCES, Check, Word, check_code, check_file
from assessments.services.certificates import share_certificate, suspend_certificate
from tests.factories.academy import Cast
from tests.factories.certificates import ISSUED, certified_ada

pytestmark = pytest.mark.django_db
LATER = ISSUED + timedelta(days=1)


@pytest.fixture
def row(cast: Cast) -> Certificate:
    return certified_ada(cast)


def test_every_word_has_its_sentence():
    assert set(SENTENCES) == set(State) | {Word.UNKNOWN, Word.NOT_GENUINE}


def test_a_code_is_answered_with_what_was_signed(row: Certificate):
    found = check_code(row.code, at=LATER)
    assert (found.word, found.certificate, found.is_known) == (State.VALID, row, True)
    assert found.shown and found.shown.holder == "Ada Marsh"
    assert (found.shows_marks, found.since) == (False, None)


@pytest.mark.parametrize("text", ["", "0" * 12, "no code", "0" * 500])
def test_what_is_no_code_or_nobodys_is_unknown(row: Certificate, text: str):
    assert check_code(text, at=LATER) == Check(Word.UNKNOWN, SENTENCES[Word.UNKNOWN])


def test_what_the_school_did_and_when_is_told_without_its_reason(row: Certificate, cast: Cast):
    suspend_certificate(certificate=row, reason="Private", actor=cast.owner, now=LATER)
    found = check_code(row.code, at=LATER)
    assert (found.word, found.since) == (State.SUSPENDED, LATER)
    assert "Private" not in str(found)


def test_levels_are_shown_by_the_holders_choice(row: Certificate, cast: Cast):
    share_certificate(certificate=row, shows_marks=True, actor=cast.ada, now=LATER)
    assert check_code(row.code, at=LATER).shows_marks


def test_a_file_is_answered_like_its_code(row: Certificate):
    assert check_file(row.token.encode(), at=LATER) == check_code(row.code, at=LATER)


@pytest.mark.parametrize(
    ("content", "word"), [(b"", "not readable"), (b"no token", "not readable"), (b"a.b.c", "not genuine")]
)
def test_a_file_that_is_none_is_told_apart(content: bytes, word: str):
    found = check_file(content, at=LATER)
    assert found.word == word and found.sentence.endswith(".") and not found.is_known


def test_signed_under_a_former_address_it_still_counts(row: Certificate, settings):
    settings.SITE_URL, former = "https://new.example", settings.SITE_URL
    assert check_code(row.code, at=LATER).word == Word.NOT_GENUINE
    assert check_file(row.token.encode(), at=LATER).word == Word.NOT_GENUINE
    settings.FORMER_SITE_URLS = [former]
    assert check_code(row.code, at=LATER).word == State.VALID
    assert check_file(row.token.encode(), at=LATER).word == State.VALID


def test_it_costs_three_questions_by_code_and_four_by_file(row: Certificate, django_assert_num_queries):
    for code in (row.code, "0" * 12):
        with django_assert_num_queries(3):
            check_code(code, at=LATER)
    with django_assert_num_queries(4):
        check_file(row.token.encode(), at=LATER)
