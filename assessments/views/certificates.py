"""Certificates: issued and looked after by staff, held, downloaded and shared by the student."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from academy.access import MemberRequest, for_members, for_staff, for_students
from academy.errors import DomainError
from academy.forms import show_refusal
from academy.models import Role
from academy.selectors.people import member
from assessments.credentials.baking import bake
from assessments.documents import badge_png, certificate_pdf
from assessments.forms.certificates import ReasonForm, ReissueForm
from assessments.models import Certificate
from assessments.scoring.certificate_state import State
from assessments.scoring.certified import plain_words
from assessments.selectors import certificates as find
from assessments.selectors.certificates import Standing
from assessments.selectors.certified import certified_now
from assessments.selectors.readiness import readiness_of
from assessments.services import certificates as services

READ_OR_WRITE = ["GET", "HEAD", "POST"]
ON_A_PAGE = 30
SAVED = {
    "suspend": "Certificate {} is suspended. Restore it when the matter is settled.",
    "restore": "Certificate {} is restored and counts again.",
    "revoke": "Certificate {} is revoked for good.",
}


@require_safe
@for_staff
def certificate_list(request: MemberRequest) -> HttpResponse:
    now, academy = timezone.now(), request.member.academy
    rows, state = find.certificates(academy), _state(request.GET.get("state", ""))
    if state:
        rows = find.in_state(rows, state, at=now)
    page = Paginator(rows, ON_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "ready": find.ready_enrolments(academy, at=now),
        "page": page,
        "rows": [Standing(row, now) for row in page.object_list],
        "states": list(State),
        "chosen": state,
        "query": urlencode({"state": state}) if state else "",
    }
    return render(request, "assessments/certificate_list.html", context)


@require_http_methods(READ_OR_WRITE)
@for_staff
def issue(request: MemberRequest, student_id: int) -> HttpResponse:
    """Shows what would be certified before anybody signs it."""
    student, now = member(request.member.academy, student_id, Role.STUDENT), timezone.now()
    if request.method == "POST":
        row = services.issue_certificate(student=student, actor=request.member, now=now)
        messages.success(request, f"Certificate {row.number} is issued to {row.holder_name}.")
        return redirect("assessments:certificate", row.pk)
    find.refuse_blind(request.member, student, until=now)
    readiness = readiness_of(student, now=now)
    words = (
        plain_words(certified_now(student, readiness, actor=request.member, now=now))
        if readiness.is_certificate_ready
        else []
    )
    context = {"student": student, "readiness": readiness, "words": words}
    return render(request, "assessments/certificate_issue.html", context)


@require_safe
@for_members
def certificate(request: MemberRequest, certificate_id: int) -> HttpResponse:
    row = find.certificate_for(request.member, certificate_id)
    return render(request, "assessments/certificate.html", {"standing": Standing(row, timezone.now())})


@require_http_methods(READ_OR_WRITE)
@for_staff
def suspend(request: MemberRequest, certificate_id: int) -> HttpResponse:
    return _decide(request, certificate_id, "suspend", services.suspend_certificate)


@require_http_methods(READ_OR_WRITE)
@for_staff
def restore(request: MemberRequest, certificate_id: int) -> HttpResponse:
    return _decide(request, certificate_id, "restore", services.restore_certificate)


@require_http_methods(READ_OR_WRITE)
@for_staff
def revoke(request: MemberRequest, certificate_id: int) -> HttpResponse:
    return _decide(request, certificate_id, "revoke", services.revoke_certificate)


@require_http_methods(READ_OR_WRITE)
@for_staff
def reissue(request: MemberRequest, certificate_id: int) -> HttpResponse:
    row = find.certificate(request.member.academy, certificate_id)
    form = ReissueForm(request.POST or None, initial={"name": row.student.name})
    if request.method == "POST" and form.is_valid():
        try:
            new = services.reissue_certificate(
                certificate=row,
                holder_name=form.cleaned_data["name"],
                reason=form.cleaned_data["reason"],
                actor=request.member,
                now=timezone.now(),
            )
        except DomainError as refused:
            show_refusal(form, refused)
        else:
            messages.success(request, f"Certificate {new.number} takes the place of {row.number}.")
            return redirect("assessments:certificate", new.pk)
    return _form(request, row, form, "reissue")


@require_safe
@for_students
def my_certificates(request: MemberRequest) -> HttpResponse:
    now = timezone.now()
    rows = [Standing(row, now) for row in find.certificates_of(request.member)]
    return render(request, "assessments/my_certificates.html", {"rows": rows})


@require_POST
@for_students
def share(request: MemberRequest, certificate_id: int) -> HttpResponse:
    row = find.certificate_for(request.member, certificate_id)
    shown = request.POST.get("shows_marks") == "1"
    services.share_certificate(certificate=row, shows_marks=shown, actor=request.member, now=timezone.now())
    messages.success(
        request,
        "Whoever checks this certificate now sees the levels too."
        if shown
        else "The check page shows no levels any more.",
    )
    return redirect("assessments:my-certificates")


@require_safe
@for_members
def token(request: MemberRequest, certificate_id: int) -> HttpResponse:
    row = find.certificate_for(request.member, certificate_id)
    return _file(row, row.token.encode(), "jwt", "text/plain; charset=utf-8")


@require_safe
@for_members
def printed(request: MemberRequest, certificate_id: int) -> HttpResponse:
    row = find.certificate_for(request.member, certificate_id)
    return _file(row, certificate_pdf(row), "pdf", "application/pdf")


@require_safe
@for_members
def badge(request: MemberRequest, certificate_id: int) -> HttpResponse:
    """The picture with the signed certificate inside."""
    row = find.certificate_for(request.member, certificate_id)
    return _file(row, bake(badge_png(row), row.token), "png", "image/png")


def _decide(
    request: MemberRequest, certificate_id: int, verb: str, service: Callable[..., Any]
) -> HttpResponse:
    row = find.certificate(request.member.academy, certificate_id)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            service(
                certificate=row, reason=form.cleaned_data["reason"], actor=request.member, now=timezone.now()
            )
        except DomainError as refused:
            show_refusal(form, refused)
        else:
            messages.success(request, SAVED[verb].format(row.number))
            return redirect("assessments:certificate", row.pk)
    return _form(request, row, form, verb)


def _form(request: MemberRequest, row: Certificate, form: forms.Form, verb: str) -> HttpResponse:
    context = {"standing": Standing(row, timezone.now()), "form": form, "verb": verb}
    return render(request, "assessments/certificate_decide.html", context)


def _file(row: Certificate, content: bytes, suffix: str, media_type: str) -> HttpResponse:
    name = f"certificate-{row.number}.{suffix}"
    return HttpResponse(
        content, content_type=media_type, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )


def _state(text: str) -> State | None:
    return State(text) if text in set(State) else None
