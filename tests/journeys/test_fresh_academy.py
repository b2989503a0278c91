"""A new academy by its pages alone: programme, hours, sign-offs, gate, certificate, print, check."""

import re
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from academy.models import Cohort, Membership
from assessments.models import Certificate, CertificateBatch, GateOpening
from courses.models import ProgrammeVersion
from tests.factories.courses import make_brief, make_head
from tests.journeys.test_story import ADDRESS, NAME, Clock, accept, inspect, open_set, practise, sign

OPEN = ["--name=Heron Quay Lash School", "--town=Saltby", "--time-zone=UTC"]
OWNER = ["--owner-name=Tove Arden", "--owner-email=tove@people.example"]
ASKED = {
    "theory_hours": "6",
    "practical_hours": "2.5",  # the one set of this story takes 150 minutes by its clock
    "hours_source": "Decision of the school, invented for a test",
    "scope": "Classic singles on mannequin heads",
    "hygiene_sets": "1",
    "graded_sets": "1",
    # What needs a dozen sets and a second educator has tests of its own.
    "competence": None,
    "mastery": None,
    "blind_mark": None,
}
CONSENT = "Consent: Assessment record"
LONG_AGO = timedelta(days=1)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock(timezone.now())
    monkeypatch.setattr("django.utils.timezone.now", lambda: clock.now)
    return clock


@pytest.fixture
def owner(db: None, clock: Clock) -> Membership:
    call_command("open_academy", *OPEN, *OWNER)
    return Membership.objects.get()


def test_from_an_empty_academy_to_a_certificate_that_a_stranger_checks(
    owner: Membership,
    clock: Clock,
    client_for: Callable[[Membership], Client],
    django_capture_on_commit_callbacks: Any,
):
    tove = client_for(owner)
    assert_nothing_is_there_and_every_page_says_what_to_do(tove)
    publish(tove)
    with django_capture_on_commit_callbacks(execute=True):
        invite(tove)
    noor = accept()
    student = Membership.objects.get(user__email=ADDRESS)
    enrol(tove, student)
    with django_capture_on_commit_callbacks(execute=True):
        meet_every_condition(tove, noor, owner, clock)
        open_the_gate(tove, noor, student)
    row = certify(tove, student)
    assert_a_stranger_finds_it_valid(noor, row)
    with django_capture_on_commit_callbacks(execute=True):
        post(tove, "assessments:certificate-batch-list", cohort=student.cohort_id, kind="pdf")
    batch = CertificateBatch.objects.get()
    assert NAME in words(tove.get(reverse("assessments:certificate-batch-file", args=[batch.uid])))


def meet_every_condition(tove: Client, noor: Client, owner: Membership, clock: Clock) -> None:
    """One after the other; her own page says at each step what is still missing."""
    student = Membership.objects.get(user__email=ADDRESS)
    practice = {"Hygiene lines", "Recent practice"}
    assert missing(noor) == {*practice, "Units before a live model", CONSENT}
    enter_hours(tove, student)
    sign_units(tove, student)
    assert missing(noor) == {*practice, CONSENT}
    work_one_set(tove, owner, student, clock)
    assert missing(noor) == {CONSENT}
    post(noor, "academy:consents", purpose="assessment_record", answer="yes")
    assert missing(noor) == set()


def open_the_gate(tove: Client, noor: Client, student: Membership) -> None:
    refuse_to_certify(tove, student)
    sign_gate(noor, "assessments:my-readiness", "assessments:my-gate-sign")
    assert not GateOpening.objects.exists()
    sign_gate(tove, "assessments:readiness", "assessments:gate-sign", student.pk)
    assert GateOpening.objects.get().student == student


def certify(tove: Client, student: Membership) -> Certificate:
    offered = reverse("assessments:certificate-issue", args=[student.pk])
    assert offered in get(tove, "assessments:certificate-list")
    post(tove, "assessments:certificate-issue", student.pk)
    return Certificate.objects.get()


def get(client: Client, name: str, /, *args: object) -> str:
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200, name
    return answer.content.decode()


def post(client: Client, name: str, /, *args: object, **form: object) -> Any:
    answer = client.post(reverse(name, args=args), form)
    assert answer.status_code == 302, (name, answer.context and answer.context.get("form", answer.content))
    return answer


def missing(student: Client) -> set[str]:
    """What her own page says is missing for the gate."""
    page = student.get(reverse("assessments:my-readiness"))
    return {line.condition.name for line in page.context["missing"]}


def assert_nothing_is_there_and_every_page_says_what_to_do(owner: Client) -> None:
    assert "Nothing issued yet" in get(owner, "assessments:certificate-list")
    assert "Nothing to print yet" in get(owner, "assessments:certificate-batch-list")
    assert "No published programme" in get(owner, "courses:programme-enrol")
    draft = ProgrammeVersion.objects.get()
    refused = get(owner, "courses:programme-publish", draft.pk)
    assert "Enter how many your programme asks for" in refused and "Publish it" not in refused


def publish(owner: Client) -> None:
    draft = ProgrammeVersion.objects.get()
    page = owner.get(reverse("courses:programme-edit", args=[draft.pk]))
    form = page.context["form"]
    fields = [*form, *(field for row in form.units for field in row), *form.units.management_form]
    shown = {field.html_name: field.value() for field in fields}
    shown |= {name: "theory" for name, value in shown.items() if name.endswith("-kind") and not value}
    typed = {**shown, **ASKED, "hours_source_on": timezone.localdate().isoformat()}
    sent = {name: "on" if value is True else value for name, value in typed.items() if value}
    post(owner, "courses:programme-edit", draft.pk, **{"unit-INITIAL_FORMS": "0", **sent})
    post(owner, "courses:programme-publish", draft.pk)


def invite(owner: Client) -> None:
    post(owner, "academy:cohort-new", name="Spring", starts_on=timezone.localdate().isoformat())
    cohort = Cohort.objects.get().pk
    post(owner, "academy:invite", name=NAME, email=ADDRESS, role="student", cohort=cohort)


def enrol(owner: Client, student: Membership) -> None:
    page = owner.get(reverse("courses:programme-enrol"))
    (version,) = page.context["form"].fields["version"].queryset
    post(owner, "courses:programme-enrol", version=version.pk, students=[student.pk])


def enter_hours(owner: Client, student: Membership) -> None:
    today = timezone.localdate().isoformat()
    post(owner, "courses:hours-enter", student.pk, kind="theory", on=today, hours=6, minutes=0)


def sign_units(owner: Client, student: Membership) -> None:
    page = owner.get(reverse("courses:enrolment-units", args=[student.pk]))
    units = [key for key, _ in page.context["form"].fields["units"].choices]
    post(owner, "courses:enrolment-units", student.pk, units=units, passed="yes")


def work_one_set(owner: Client, educator: Membership, student: Membership, clock: Clock) -> None:
    """The brief's map is drawn elsewhere; the set is opened, worked, inspected and signed by its pages."""
    brief = make_brief(student.academy, educator, now=clock.now - LONG_AGO)
    head = make_head(student.academy, strip_fitted_on=(clock.now - LONG_AGO).date())
    uid = open_set(owner, {"student": student.pk, "brief": brief.brief_id, "head": head.pk})
    practise(owner, uid, clock)
    inspect(owner, uid, clock)
    sign(owner, uid)


def refuse_to_certify(owner: Client, student: Membership) -> None:
    path = reverse("assessments:certificate-issue", args=[student.pk])
    assert "Gate to live models" in owner.post(path).content.decode()
    assert not Certificate.objects.exists()


def sign_gate(client: Client, page: str, door: str, *args: object) -> None:
    (basis,) = re.findall(r'name="basis" value="(\w+)"', get(client, page, *args))
    post(client, door, *args, basis=basis)


def assert_a_stranger_finds_it_valid(holder: Client, row: Certificate) -> None:
    """By the code she reads on her page, and by each file she downloads there."""
    (code,) = set(re.findall(r'<span class="code">(\S+)</span>', get(holder, "assessments:my-certificates")))
    stranger = Client()
    answer = stranger.get(reverse("assessments:check"), {"code": code}, follow=True)
    assert "genuine and in force" in answer.content.decode() and NAME in answer.content.decode()
    for name in ("token", "pdf", "badge"):
        file = ContentFile(
            holder.get(reverse(f"assessments:certificate-{name}", args=[row.pk])).content, name
        )
        found = stranger.post(reverse("assessments:check-file"), {"file": file})
        assert "genuine and in force" in found.content.decode(), name


def words(answer: Any) -> str:
    content = b"".join(answer) if answer.streaming else answer.content
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)
