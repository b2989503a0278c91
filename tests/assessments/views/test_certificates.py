"""Staff issue and look after certificates; students hold, download and share them."""

import io
from collections.abc import Callable
from datetime import timedelta

import pypdf
import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from academy.models import Membership, Role
from assessments.credentials.baking import unbake
from assessments.models import Certificate, CertificateSharing
from assessments.services.certificates import revoke_certificate
from assessments.services.gate import watch_gate
from tests.factories.academy import Cast, make_member
from tests.factories.certificates import certified_ada, make_certificate, make_enrolment, make_ready
from tests.factories.second_marks import give_second_mark

pytestmark = pytest.mark.django_db
SignIn = Callable[[Membership], Client]
LIST, MINE = reverse("assessments:certificate-list"), reverse("assessments:my-certificates")


def at(name: str, row: Certificate) -> str:
    return reverse(f"assessments:certificate{name}", args=[row.pk])


def issue_url(student: Membership) -> str:
    return reverse("assessments:certificate-issue", args=[student.pk])


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def ines(cast: Cast, client_for: SignIn) -> Client:
    return client_for(cast.ines)


@pytest.fixture
def ada(cast: Cast, client_for: SignIn) -> Client:
    return client_for(cast.ada)


class TestList:
    def test_an_empty_list_says_what_to_do(self, cast: Cast, ines: Client):
        page = text(ines.get(LIST))
        assert "Nothing issued yet" in page and "Nobody without a certificate" in page
        assert 'name="state"' not in page and "Print a cohort" not in page

    def test_the_ready_are_offered_and_the_issued_shown_with_their_state(self, cast: Cast, ines: Client):
        row = certified_ada(cast)
        make_ready(cast.bea, cast.ines)
        watch_gate(student=cast.bea, now=timezone.now())
        page = text(ines.get(LIST))
        assert issue_url(cast.bea) in page and at("", row) in page and "seal--valid" in page

    def test_it_can_be_narrowed_to_a_state(self, cast: Cast, ines: Client):
        row, other = certified_ada(cast), make_certificate(cast.bea, cast.ines)
        revoke_certificate(certificate=row, reason="Fraud", actor=cast.owner, now=timezone.now())
        page = text(ines.get(LIST, {"state": "revoked"}))
        assert at("", row) in page and at("", other) not in page
        assert "None in this state" in text(ines.get(LIST, {"state": "suspended"}))
        assert at("", other) in text(ines.get(LIST, {"state": "nonsense"}))


class TestIssue:
    def test_what_it_will_say_is_read_before_it_is_issued(self, cast: Cast, ines: Client):
        make_ready(cast.ada, cast.ines)
        page = text(ines.get(issue_url(cast.ada)))
        assert "certifies that Ada Marsh completed Lash foundation" in page
        assert not Certificate.objects.exists()
        answer = ines.post(issue_url(cast.ada), follow=True)
        row = Certificate.objects.get()
        assert answer.redirect_chain == [(at("", row), 302)]
        assert "Certificate 1 is issued to Ada Marsh." in text(answer)

    def test_what_is_missing_is_said_and_there_is_no_button(self, cast: Cast, ines: Client):
        make_enrolment(cast.ada, cast.owner)
        page = text(ines.get(issue_url(cast.ada)))
        assert "Not every condition is met yet" in page and "Issue the certificate" not in page
        assert "not met</span>" in page and ">held<" not in page
        assert reverse("assessments:readiness", args=[cast.ada.pk]) in page

    def test_sending_the_form_anyway_issues_nothing(self, cast: Cast, ines: Client):
        make_enrolment(cast.ada, cast.owner)
        answer = ines.post(issue_url(cast.ada))
        assert answer.status_code == 409 and "Graded sets" in text(answer)
        assert not Certificate.objects.exists()

    def test_sending_it_twice_issues_one(self, cast: Cast, ines: Client):
        make_ready(cast.ada, cast.ines)
        ines.post(issue_url(cast.ada))
        again = ines.post(issue_url(cast.ada))
        assert again.status_code == 409 and "still stands" in text(again)
        assert Certificate.objects.count() == 1

    def test_educators_are_not_certified_here(self, cast: Cast, ines: Client):
        tutor = make_member(cast.academy, "Rhea Quill", Role.EDUCATOR)
        assert ines.get(issue_url(tutor)).status_code == 404


class TestOne:
    def test_staff_and_holder_read_it_whole(self, cast: Cast, ines: Client, ada: Client):
        row = certified_ada(cast)
        for client in (ines, ada):
            page = text(client.get(at("", row)))
            assert (
                "certifies that Ada Marsh" in page
                and "Isolation" in page
                and "Graded sets: 1 graded set" in page
            )
        assert "Change how it stands" in text(ines.get(at("", row)))
        assert "Change how it stands" not in text(ada.get(at("", row)))

    def test_an_educator_who_marks_blind_waits(self, cast: Cast, client_for):
        row = certified_ada(cast)
        give_second_mark(cast.ada.practice_sets.get().grades.get(), cast.second)
        tova = client_for(cast.second)
        for name in ("", "-pdf", "-badge", "-token"):
            assert tova.get(at(name, row)).status_code == 403, name
        assert tova.get(issue_url(cast.ada)).status_code == 403

    def test_downloads_carry_the_signed_certificate(self, cast: Cast, ada: Client):
        row = certified_ada(cast)
        signed = ada.get(at("-token", row))
        assert signed.content.decode() == row.token and signed["Content-Type"] == "text/plain; charset=utf-8"
        assert signed["Content-Disposition"] == 'attachment; filename="certificate-1.jwt"'
        badge = ada.get(at("-badge", row))
        assert badge["Content-Type"] == "image/png" and unbake(badge.content) == row.token
        printed = ada.get(at("-pdf", row))
        attached = pypdf.PdfReader(io.BytesIO(printed.content)).attachments
        assert [content.decode() for contents in attached.values() for content in contents] == [row.token]
        for answer in (signed, badge, printed):
            assert answer["Cache-Control"] == "no-store"


class TestDecisions:
    def test_suspend_restore_and_revoke_ask_for_a_reason(self, cast: Cast, ines: Client):
        row = certified_ada(cast)
        for verb, word in (("suspend", "suspended"), ("restore", "valid"), ("revoke", "revoked")):
            assert ines.get(at(f"-{verb}", row)).status_code == 200
            empty = ines.post(at(f"-{verb}", row), {"reason": "  "})
            assert empty.status_code == 200 and "Fill this in." in text(empty)
            answer = ines.post(at(f"-{verb}", row), {"reason": "Invented for a test"}, follow=True)
            assert answer.redirect_chain == [(at("", row), 302)]
            assert f"seal--{word}" in text(answer) and "Invented for a test" in text(answer)

    def test_what_cannot_be_is_said_and_nothing_typed_is_lost(self, cast: Cast, ines: Client):
        row = certified_ada(cast)
        answer = ines.post(at("-restore", row), {"reason": "A long reason"})
        assert answer.status_code == 200
        assert "Only a suspended certificate can be restored." in text(answer)
        assert "A long reason" in text(answer)

    def test_a_new_name_gets_a_new_certificate(self, cast: Cast, ines: Client):
        row = certified_ada(cast)
        same = ines.post(at("-reissue", row), {"name": "Ada Marsh", "reason": "Married"})
        assert "already bears this name" in text(same)
        answer = ines.post(at("-reissue", row), {"name": "Ada Fell", "reason": "Married"}, follow=True)
        new = Certificate.objects.get(holder_name="Ada Fell")
        assert answer.redirect_chain == [(at("", new), 302)]
        assert "Certificate 2 takes the place of 1." in text(answer)
        old = text(ines.get(at("", row)))
        assert "seal--replaced" in old and at("", new) in old


class TestMine:
    def test_without_a_certificate_it_says_where_to_look(self, cast: Cast, ada: Client):
        page = text(ada.get(MINE))
        assert "No certificate yet" in page and reverse("assessments:my-readiness") in page

    def test_it_says_what_it_is_in_plain_words(self, cast: Cast, ada: Client):
        row = certified_ada(cast)
        page = text(ada.get(MINE))
        assert "It is a training certificate, not a licence" in page
        assert row.code[:4] in page and f"/v/{row.code}" in page

    def test_the_holder_shows_her_levels_and_stops_again(self, cast: Cast, ada: Client):
        row = certified_ada(cast)
        for sent, words in (("1", "now sees the levels too"), ("0", "shows no levels any more")):
            answer = ada.post(at("-share", row), {"shows_marks": sent}, follow=True)
            assert words in text(answer)
            assert CertificateSharing.objects.get().shows_marks is (sent == "1")

    def test_nobody_else_shares_it(self, cast: Cast, client_for):
        row = certified_ada(cast)
        for member, status in (
            (cast.bea, 404),
            (cast.owner, 403),
            (cast.ines, 403),
            (cast.omar_student, 404),
        ):
            assert client_for(member).post(at("-share", row), {"shows_marks": "1"}).status_code == status
        assert not CertificateSharing.objects.exists()

    def test_she_reads_why_it_was_suspended(self, cast: Cast, ines: Client, ada: Client):
        row = certified_ada(cast)
        ines.post(at("-suspend", row), {"reason": "The set of 2 February is looked at again"})
        page = text(ada.get(MINE))
        assert "seal--suspended" in page and "The set of 2 February is looked at again" in page


def test_lists_are_paged(cast: Cast, ines: Client, monkeypatch):
    monkeypatch.setattr("assessments.views.certificates.ON_A_PAGE", 1)
    rows = [certified_ada(cast), make_certificate(cast.bea, cast.ines)]
    first, second = (text(ines.get(LIST, {"page": number})) for number in (1, 2))
    assert at("", rows[1]) in first and at("", rows[0]) in second and at("", rows[0]) not in first


def test_an_expired_certificate_is_shown_as_such(cast: Cast, ines: Client):
    row = make_certificate(cast.ada, cast.ines, at=timezone.now() - timedelta(days=900))
    assert "seal--expired" in text(ines.get(at("", row)))
