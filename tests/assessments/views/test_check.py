"""Anybody asks, without an account: by code, by file, as a page, as JSON, as the signed text."""

import json
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.template.loader import render_to_string
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from assessments.credentials.baking import bake
from assessments.credentials.code import grouped
from assessments.documents import badge_png, certificate_pdf
from assessments.models import Certificate
from assessments.scoring.certificate_state import State
from assessments.selectors.certificate_checks import Word
from assessments.services.certificates import (
    issue_certificate,
    reissue_certificate,
    restore_certificate,
    revoke_certificate,
    share_certificate,
    suspend_certificate,
)
from tests.factories.academy import Cast
from tests.factories.certificates import certified_ada, make_ready

pytestmark = pytest.mark.django_db
FORM, FILE = reverse("assessments:check"), reverse("assessments:check-file")


def address(code: str) -> str:
    return reverse("assessments:check-code", args=[code])


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


def asked_for(media_type: str, code: str):
    return Client().get(address(code), headers={"accept": media_type})


def state(code: str) -> str:
    return str(json.loads(asked_for("application/json", code).content)["state"])


def handed_in(content: bytes, name: str = "certificate.jwt"):
    return Client().post(FILE, {"file": SimpleUploadedFile(name, content)})


def decide(service, row: Certificate, cast: Cast):
    return service(certificate=row, reason="Invented reason", actor=cast.owner, now=timezone.now())


@pytest.fixture
def row(cast: Cast) -> Certificate:
    return certified_ada(cast)


class TestPage:
    def test_the_form_is_open_to_everybody(self):
        page = text(Client().get(FORM))
        assert "Check a certificate" in page and "By its file" in page

    @pytest.mark.parametrize("written", [str, str.lower, grouped, lambda code: f" {grouped(code).lower()} "])
    def test_a_code_leads_to_its_answer_however_it_is_written(self, row, written):
        answer = Client().get(FORM, {"code": written(row.code)}, follow=True)
        assert answer.redirect_chain == [(f"/v/{row.code}", 302)]
        page = text(answer)
        assert "This certificate is genuine and in force today." in page
        for said in ("Ada Marsh", "Marram Lane Lash School", "Lash foundation", "Valid until"):
            assert said in page
        assert "<dd>2 February 2026</dd>" in page  # practised on one day

    def test_the_printed_address_in_capitals_is_known(self, row):
        assert Client().get(f"/V/{row.code}").status_code == 200

    def test_what_cannot_be_a_code_is_shown_again_as_typed(self):
        answer = Client().get(FORM, {"code": "MARRAM-1"})
        assert "it has 12 letters and digits" in text(answer) and 'value="MARRAM-1"' in text(answer)

    def test_an_unknown_code_is_unknown(self, row):
        answer = Client().get(address("0" * 12))
        assert answer.status_code == 404 and "No certificate with this code was issued here" in text(answer)

    def test_it_needs_no_script_and_sets_no_cookie(self, row):
        for page in (Client().get(FORM), Client().get(address(row.code))):
            assert b"<script" not in page.content and not page.cookies
            assert page["X-Robots-Tag"] == "noindex, nofollow"

    def test_a_session_is_not_looked_at(self, row, cast: Cast, client_for):
        signed_in = client_for(cast.ada).get(address(row.code))
        assert b"Ada Marsh" in signed_in.content and b"Sign out" not in signed_in.content
        assert signed_in.content == Client().get(address(row.code)).content

    def test_no_level_is_shown_until_the_holder_shows_it(self, row, cast: Cast):
        skill = row.content["skills"][0]["name"]
        assert f"<span>{skill}</span>" not in text(Client().get(address(row.code)))
        share_certificate(certificate=row, shows_marks=True, actor=cast.ada, now=timezone.now())
        page = text(Client().get(address(row.code)))
        assert f"<span>{skill}</span>" in page and "shown by the holder" in page
        share_certificate(certificate=row, shows_marks=False, actor=cast.ada, now=timezone.now())
        assert f"<span>{skill}</span>" not in text(Client().get(address(row.code)))

    def test_the_reason_of_a_decision_stays_between_school_and_holder(self, row, cast: Cast):
        decide(suspend_certificate, row, cast)
        assert "Invented reason" not in text(Client().get(address(row.code)))


class TestStates:
    def test_suspended_restored_revoked(self, row, cast: Cast):
        assert state(row.code) == "valid"
        decide(suspend_certificate, row, cast)
        assert state(row.code) == "suspended"
        decide(restore_certificate, row, cast)
        assert state(row.code) == "valid"
        decide(revoke_certificate, row, cast)
        assert state(row.code) == "revoked"
        assert "does not count any more" in text(Client().get(address(row.code)))

    def test_replaced(self, row, cast: Cast):
        new = reissue_certificate(
            certificate=row, holder_name="Ada Fell", reason="Married", actor=cast.owner, now=timezone.now()
        )
        assert (state(row.code), state(new.code)) == ("replaced", "valid")

    @pytest.mark.parametrize(("days", "word"), [(1, "not yet valid"), (-800, "expired")])
    def test_the_days_of_the_certificate_count(self, cast: Cast, days, word):
        make_ready(cast.ada, cast.ines)
        began = timezone.now() + timedelta(days=days)
        row = issue_certificate(student=cast.ada, actor=cast.ines, now=began)
        assert state(row.code) == word

    def test_unknown(self):
        assert state("0" * 12) == "unknown"

    def test_every_word_has_a_shape_of_its_own_beside_it(self):
        """WCAG 2.2, 1.4.1 Use of Color: the word is text, and the drawing differs in its lines."""
        words = [*State, *Word]
        seals = [render_to_string("components/_certificate_state.html", {"state": each}) for each in words]
        for word, seal in zip(words, seals, strict=True):
            assert f'<span class="seal-word">{word}</span>' in seal
        drawings = {seal.partition("<svg")[2].partition("</svg>")[0] for seal in seals}
        assert len(drawings) == len(words) == 9

    def test_the_page_says_each_state_in_its_own_words(self, row, cast: Cast):
        for service, words in (
            (suspend_certificate, "does not count until it is restored"),
            (restore_certificate, "genuine and in force today"),
            (revoke_certificate, "does not count any more"),
        ):
            decide(service, row, cast)
            page = Client().get(address(row.code))
            assert page.status_code == 200 and words in text(page)


class TestMachines:
    def test_json_tells_what_the_page_tells(self, row):
        answer = asked_for("application/json", row.code)
        assert answer["Content-Type"] == "application/json" and "Accept" in answer["Vary"]
        told = json.loads(answer.content)
        assert told["holder"] == "Ada Marsh" and told["programme"] == "Lash foundation"
        assert told["valid_until"] == row.valid_until.isoformat()
        assert "levels" not in told

    def test_json_has_levels_when_the_holder_shows_them(self, row, cast: Cast):
        share_certificate(certificate=row, shows_marks=True, actor=cast.ada, now=timezone.now())
        levels = json.loads(asked_for("application/json", row.code).content)["levels"]
        isolation = next(skill for skill in row.content["skills"] if skill["code"] == "isolation")
        assert levels["Isolation"] == int(isolation["level"])  # the whole level that is reached

    def test_the_signed_text_holds_levels_so_it_waits_for_the_holder(self, row, cast: Cast):
        refused = asked_for("text/plain", row.code)
        assert refused.status_code == 403 and b"Ask for the file itself" in refused.content
        share_certificate(certificate=row, shows_marks=True, actor=cast.ada, now=timezone.now())
        answer = asked_for("text/plain", row.code)
        assert answer.content.decode() == row.token and answer["Content-Type"].startswith("text/plain")

    def test_an_unknown_code_is_unknown_in_every_form(self, row):
        assert asked_for("text/plain", "0" * 12).content == b"unknown\n"
        assert asked_for("application/json", "0" * 12).status_code == 404

    @pytest.mark.parametrize("accept", ["text/html,*/*;q=0.8", "*/*", "image/png"])
    def test_everything_else_gets_the_page(self, row, accept):
        assert asked_for(accept, row.code)["Content-Type"].startswith("text/html")


class TestFile:
    def test_the_signed_file_the_badge_and_the_print_are_read(self, row):
        files = {
            "certificate.jwt": row.token.encode() + b"\n",
            "badge.png": bake(badge_png(row), row.token),
            "certificate.pdf": certificate_pdf(row),
        }
        for name, content in files.items():
            answer = handed_in(content, name)
            assert answer.status_code == 200, name
            assert "This certificate is genuine and in force today." in text(answer), name

    def test_its_state_is_that_of_today(self, row, cast: Cast):
        decide(revoke_certificate, row, cast)
        assert "does not count any more" in text(handed_in(row.token.encode()))

    def test_no_file_is_asked_for_again(self):
        answer = Client().post(FILE)
        assert answer.status_code == 200 and "Choose the certificate" in text(answer)

    def test_nothing_is_kept(self, row):
        before = [Certificate.objects.count(), len(connection.introspection.table_names())]
        with CaptureQueriesContext(connection) as asked:
            handed_in(row.token.encode())
        assert [query["sql"][:6] for query in asked] == ["SELECT"] * len(asked)
        assert before[0] == Certificate.objects.count()


def test_unknown_takes_as_many_questions_as_known(row):
    """So the time of an answer tells nothing that its word does not."""
    counts = []
    for code in (row.code, "0" * 12, "not a code at all"):
        with CaptureQueriesContext(connection) as asked:
            Client().get(address(code))
        counts.append(len(asked))
    assert counts == [3, 3, 3]


def test_a_hundred_guesses_are_stopped_whichever_codes_they_name(row):
    answers = [Client().get(address(f"{nth:012}")).status_code for nth in range(60)]
    assert set(answers) == {404}
    stopped = Client().get(address(row.code))
    assert stopped.status_code == 429 and stopped["Retry-After"] == "300"
    assert Client().get(FORM).status_code == 200


def test_files_are_limited_too(row):
    answers = [handed_in(b"nothing").status_code for _ in range(13)]
    assert answers == [422] * 12 + [429]
