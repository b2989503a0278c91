"""The readiness page: every condition with its evidence, both signatures, and the way shut again."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from academy.models import Membership
from assessments.models import GateClosing, GateOpening, GateSignature, PracticeSet
from assessments.selectors.readiness import readiness_of
from tests.factories.academy import Cast
from tests.factories.gate import READY_AT, easier, make_gate_ready, make_open_gate, make_set, signed_by
from tests.factories.gate_falls import FALLS, consent_withdrawn
from tests.factories.second_marks import give_second_mark

pytestmark = pytest.mark.django_db
SignIn = Callable[[Membership], Client]


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pages are opened on the day on which Ada is ready."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: READY_AT)


def page(student: Membership) -> str:
    return reverse("assessments:readiness", args=[student.pk])


def sign_url(student: Membership) -> str:
    return reverse("assessments:gate-sign", args=[student.pk])


def test_every_condition_shows_its_evidence_with_the_way_to_it(cast: Cast, client_for: SignIn):
    make_gate_ready(cast)
    shown = client_for(cast.ines).get(page(cast.ada))
    practice_set = PracticeSet.objects.get()
    for url in (
        reverse("assessments:set", args=[practice_set.uid]),
        reverse("courses:enrolment", args=[cast.ada.pk]),
        reverse("assessments:student-sets", args=[cast.ada.pk]),
        reverse("assessments:student", args=[cast.ada.pk]),
    ):
        assertContains(shown, f'href="{url}"')
    for words in (
        "all 10 hygiene lines signed",
        "Hygiene and disinfection: signed off on 13 January 2026 by Ines Carvalho",
        "4 h on the clock of practice sets",
        "Given on 12 January 2026.",
        "marked blind by another educator",
        "All 10 conditions are met.",
    ):
        assertContains(shown, words)


def test_what_is_missing_stands_first_with_the_shortest_way(cast: Cast, client_for: SignIn):
    enrolment = make_gate_ready(cast)
    FALLS["units"](cast, enrolment, READY_AT)
    FALLS["theory_hours"](cast, enrolment, READY_AT)
    shown = client_for(cast.ada).get(reverse("assessments:my-readiness")).content.decode()
    missing = shown[shown.index("What is missing") : shown.index("What is met")]
    assert "An educator signs off “Hygiene and disinfection”." in missing
    assert "1 h more theory, entered by an educator." in missing
    assert "Hygiene lines" not in missing
    assert "8 of 10 conditions are met." in shown


@pytest.mark.parametrize(
    ("code", "to_staff", "to_her"),
    [
        ("units", "/students/{}/programme/", ""),
        ("theory_hours", "/students/{}/programme/", ""),
        ("mastery", "/bench/new/?student={}", ""),
        ("consent_assessment_record", "", "/consents/"),
    ],
)
def test_the_shortest_way_leads_where_the_reader_can_do_something(
    cast: Cast, client_for: SignIn, code: str, to_staff: str, to_her: str
):
    FALLS[code](cast, make_gate_ready(cast), READY_AT)
    for member, url, way in (
        (cast.ines, page(cast.ada), to_staff.format(cast.ada.pk)),
        (cast.ada, reverse("assessments:my-readiness"), to_her),
    ):
        (line,) = client_for(member).get(url).context["missing"]
        assert (line.condition.code, line.way.url if line.way else "") == (code, way)


def test_the_student_opens_her_own_and_nobody_elses(cast: Cast, client_for: SignIn):
    make_gate_ready(cast)
    own = client_for(cast.ada).get(reverse("assessments:my-readiness"))
    assertContains(own, reverse("courses:my-programme"))
    assertContains(own, reverse("academy:consents"))
    assert client_for(cast.bea).get(page(cast.ada)).status_code == 403
    assert client_for(cast.omar).get(page(cast.ada)).status_code == 404


def test_both_sign_on_their_pages_and_the_gate_is_open(cast: Cast, client_for: SignIn):
    make_gate_ready(cast)
    basis = readiness_of(cast.ada, now=READY_AT).basis
    hers = client_for(cast.ada)
    assertContains(hers.get(reverse("assessments:my-readiness")), f'name="basis" value="{basis}"')
    answer = hers.post(reverse("assessments:my-gate-sign"), {"basis": basis}, follow=True)
    assertContains(answer, "Your signature stands.")
    assertNotContains(answer, "Sign for the gate")
    answer = client_for(cast.ines).post(sign_url(cast.ada), {"basis": basis}, follow=True)
    assertRedirects(answer, page(cast.ada))
    assertContains(answer, "Both signatures stand: the gate to live models is open.")
    assertContains(answer, "It closes by itself on 3 May 2026")


@pytest.mark.parametrize("code", FALLS)
def test_no_button_is_shown_and_no_form_is_taken_while_a_condition_is_unmet(
    cast: Cast, client_for: SignIn, code: str
):
    enrolment = make_gate_ready(cast)
    FALLS[code](cast, enrolment, READY_AT)
    basis = readiness_of(cast.ada, now=READY_AT).basis
    for member, url, sign in (
        (cast.ines, page(cast.ada), sign_url(cast.ada)),
        (cast.ada, reverse("assessments:my-readiness"), reverse("assessments:my-gate-sign")),
    ):
        client = client_for(member)
        assertNotContains(client.get(url), "Sign for the gate")
        assertContains(client.post(sign, {"basis": basis}, follow=True), "The gate cannot be signed")
    assert not GateSignature.objects.exists()


def test_a_form_opened_before_the_evidence_changed_is_refused(cast: Cast, client_for: SignIn):
    make_gate_ready(cast, gate=easier(blind_mark=False))
    basis = readiness_of(cast.ada, now=READY_AT).basis
    make_set(cast, at=READY_AT - timedelta(hours=6))
    answer = client_for(cast.ines).post(sign_url(cast.ada), {"basis": basis}, follow=True)
    assertContains(answer, "What the gate rests on has changed")
    assert not GateSignature.objects.exists()


def test_whoever_marks_a_set_of_hers_blind_waits_for_the_evidence(cast: Cast, client_for: SignIn):
    make_gate_ready(cast)
    give_second_mark(make_set(cast, at=READY_AT - timedelta(hours=6)), cast.second)
    client = client_for(cast.second)
    shown = client.get(page(cast.ada))
    assertContains(shown, "You are marking a set of this student blind.")
    assertNotContains(shown, "hygiene lines")
    answer = client.post(sign_url(cast.ada), {"basis": "x"}, follow=True)
    assertContains(answer, "You are marking this set blind.")


class TestClosing:
    def url(self, cast: Cast) -> str:
        return reverse("assessments:gate-close", args=[cast.ada.pk])

    def test_it_is_closed_by_hand_with_a_reason_that_the_student_reads(self, cast: Cast, client_for: SignIn):
        make_open_gate(cast)
        client = client_for(cast.ines)
        assertContains(client.get(page(cast.ada)), f'href="{self.url(cast)}"')
        answer = client.post(self.url(cast), {"reason": "Eye pain reported."}, follow=True)
        assertContains(answer, "The gate of Ada Marsh is closed.")
        assertContains(client_for(cast.ada).get(reverse("assessments:my-readiness")), "Eye pain reported.")

    def test_without_a_reason_the_form_comes_back(self, cast: Cast, client_for: SignIn):
        make_open_gate(cast)
        assertContains(client_for(cast.ines).post(self.url(cast), {"reason": " "}), "Say why, then close it.")
        assert not GateClosing.objects.exists()

    def test_a_gate_closed_meanwhile_keeps_what_was_typed(self, cast: Cast, client_for: SignIn):
        make_gate_ready(cast)
        answer = client_for(cast.ines).post(self.url(cast), {"reason": "Eye pain reported."})
        assertContains(answer, "The gate is not open")
        assertContains(answer, "Eye pain reported.")

    def test_the_student_is_shown_no_way_to_close_it(self, cast: Cast, client_for: SignIn):
        make_open_gate(cast)
        assertNotContains(client_for(cast.ada).get(reverse("assessments:my-readiness")), "Close the gate")


def test_a_condition_that_fell_away_is_shown_at_once(cast: Cast, client_for: SignIn):
    make_open_gate(cast)
    consent_withdrawn(cast, GateOpening.objects.get().enrolment, READY_AT)
    shown = client_for(cast.ines).get(page(cast.ada))
    assertContains(shown, "gate-state--shut")
    assertContains(shown, "Withdrawn on 4 February 2026.")


def test_a_lapsed_gate_says_so_before_anybody_has_written_it_down(
    cast: Cast, client_for: SignIn, monkeypatch: pytest.MonkeyPatch
):
    make_open_gate(cast)
    client = client_for(cast.ines)
    monkeypatch.setattr("django.utils.timezone.now", lambda: READY_AT + timedelta(days=100))
    client = client_for(cast.ines)
    shown = client.get(page(cast.ada))
    assertContains(shown, "lapsed on 3 May 2026: no graded set for 90 days")
    assertNotContains(shown, "Sign for the gate")


def test_without_a_programme_it_says_what_to_do(cast: Cast, client_for: SignIn):
    assertContains(client_for(cast.ines).get(page(cast.ada)), "Enrol the student first.")
    assertContains(
        client_for(cast.ada).get(reverse("assessments:my-readiness")), "Ask your educator to enrol you."
    )


def test_the_students_page_and_today_lead_there(cast: Cast, client_for: SignIn):
    make_gate_ready(cast)
    client = client_for(cast.owner)
    assertContains(client.get(reverse("assessments:student", args=[cast.ada.pk])), f'href="{page(cast.ada)}"')
    today = client.get(reverse("assessments:today"))
    assertContains(today, "Gates reached")
    assertContains(today, "waiting for both signatures")
    signed_by(cast.ada, cast.ada)
    assertContains(client.get(reverse("assessments:today")), "waiting for an educator")


def test_today_says_nothing_of_gates_while_nobody_has_reached_one(cast: Cast, client_for: SignIn):
    assertNotContains(client_for(cast.owner).get(reverse("assessments:today")), "Gates reached")


def test_it_costs_the_same_however_many_sets_there_are(
    cast: Cast, client_for: SignIn, count_queries: Callable[[Client, str], int]
):
    make_gate_ready(cast)
    client = client_for(cast.ines)
    few = count_queries(client, page(cast.ada))
    for nth in range(1, 5):
        make_set(cast, at=READY_AT + timedelta(days=nth))
    assert count_queries(client, page(cast.ada)) == few
    assert timezone.now() == READY_AT
