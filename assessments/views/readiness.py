from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from academy.access import MemberRequest, for_staff, for_students
from academy.errors import DomainError
from academy.forms import show_refusal
from academy.models import Membership
from assessments.forms.gate import CloseGateForm
from assessments.scoring.gate_state import EDUCATOR, STUDENT
from assessments.scoring.readiness_facts import Condition, Evidence
from assessments.selectors.readiness import WAITING, Readiness, gate_history, readiness_of
from assessments.selectors.second_marks import blind_sets, waiting_for
from assessments.selectors.students import student as student_here
from assessments.services.gate import close_gate, sign_gate
from assessments.views.students import whose


@dataclass(frozen=True, slots=True)
class EvidenceLink:
    """``url`` is empty where the reader has nothing to open."""

    words: str
    url: str


@dataclass(frozen=True, slots=True)
class ConditionLine:
    """``way``: where the reader can go to get there, None where it is not hers to do."""

    condition: Condition
    evidence: tuple[EvidenceLink, ...]
    way: EvidenceLink | None


@require_safe
@for_staff
def readiness(request: MemberRequest, student_id: int) -> HttpResponse:
    """The evidence is marks, so who marks one of the student's sets blind waits for it."""
    found = student_here(request.member.academy, student_id)
    if found.pk in blind_sets(request.member).values():
        context = {**whose(request.member, found), "second_marks": waiting_for(request.member, found)}
        return render(request, "assessments/student_blind.html", context)
    return _page(request, found)


@require_safe
@for_students
def my_readiness(request: MemberRequest) -> HttpResponse:
    return _page(request, request.member)


@require_POST
@for_staff
def sign(request: MemberRequest, student_id: int) -> HttpResponse:
    return _sign(request, student_here(request.member.academy, student_id))


@require_POST
@for_students
def my_sign(request: MemberRequest) -> HttpResponse:
    return _sign(request, request.member)


@require_http_methods(["GET", "HEAD", "POST"])
@for_staff
def close(request: MemberRequest, student_id: int) -> HttpResponse:
    student = student_here(request.member.academy, student_id)
    form = CloseGateForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            close_gate(
                student=student, actor=request.member, now=timezone.now(), reason=form.cleaned_data["reason"]
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"The gate of {student.name} is closed.")
            return _back(request.member, student)
    context = {**whose(request.member, student, "Close the gate"), "form": form}
    return render(request, "assessments/gate_close.html", context)


def _page(request: MemberRequest, student: Membership) -> HttpResponse:
    found = readiness_of(student, now=timezone.now())
    side = STUDENT if request.member.pk == student.pk else EDUCATOR
    context = {
        **whose(request.member, student, "Readiness"),
        "readiness": found,
        "missing": _lines(found.missing, request.member, student),
        "met": _lines([each for each in found.gate if each.met], request.member, student),
        "certificate": _lines(found.certificate, request.member, student),
        "may_sign": found.gate_state in WAITING and side not in found.sides,
        "signatures": {each.side: each for each in found.standing},
        "history": gate_history(student),
        "sign_url": _url(request.member, student, "gate-sign"),
    }
    return render(request, "assessments/readiness.html", context)


def _sign(request: MemberRequest, student: Membership) -> HttpResponse:
    seen = request.POST.get("basis", "")
    try:
        signed = sign_gate(student=student, actor=request.member, seen=seen, now=timezone.now())
    except DomainError as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, _signed_words(signed))
    return _back(request.member, student)


def _signed_words(signed: Readiness) -> str:
    if signed.is_open:
        return "Both signatures stand: the gate to live models is open."
    return "Your signature stands. The gate opens with the other one, on the same evidence."


def _back(reader: Membership, student: Membership) -> HttpResponseRedirect:
    return redirect(_url(reader, student, "readiness"))


def _url(reader: Membership, student: Membership, page: str) -> str:
    if reader.pk == student.pk:
        return reverse(f"assessments:my-{page}")
    return reverse(f"assessments:{page}", args=[student.pk])


def _lines(
    conditions: Sequence[Condition], reader: Membership, student: Membership
) -> tuple[ConditionLine, ...]:
    return tuple(
        ConditionLine(each, tuple(_links(each, reader, student)), _way(each, reader, student))
        for each in conditions
    )


def _way(condition: Condition, reader: Membership, student: Membership) -> EvidenceLink | None:
    code = condition.code
    if condition.met:
        return None
    if reader.pk == student.pk:
        is_hers = code.startswith("consent_")
        return EvidenceLink("My consents", reverse("academy:consents")) if is_hers else None
    if code in {"units", "all_units", "theory_hours", "practical_hours"}:
        return EvidenceLink("Programme and hours", reverse("courses:enrolment", args=[student.pk]))
    if code == "blind_mark":
        return EvidenceLink("Agreement", reverse("assessments:agreement"))
    if code in {"graded_sets", "hygiene", "competence", "mastery", "recent"} and student.is_current:
        return EvidenceLink("Start a set", f"{reverse('assessments:bench-new')}?student={student.pk}")
    return None


def _links(condition: Condition, reader: Membership, student: Membership) -> Iterator[EvidenceLink]:
    for each in condition.evidence:
        yield EvidenceLink(each.words, _evidence_url(each, reader, student))


def _evidence_url(evidence: Evidence, reader: Membership, student: Membership) -> str:
    is_own = reader.pk == student.pk
    match evidence.kind:
        case "set":
            return reverse("assessments:set", args=[evidence.key])
        case "sets":
            return str(whose(reader, student)["sets_url"])
        case "skill":
            return (
                reverse("assessments:stand") if is_own else reverse("assessments:student", args=[student.pk])
            )
        case "unit" | "hours":
            return (
                reverse("courses:my-programme") if is_own else reverse("courses:enrolment", args=[student.pk])
            )
        case "consent" if is_own:
            return reverse("academy:consents")
    return ""
