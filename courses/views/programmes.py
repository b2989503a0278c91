from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from academy.access import MemberRequest, for_owner, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.programmes import NameForm, ProgrammeDraftForm
from courses.models import ProgrammeVersion
from courses.programme.problems import publish_problems
from courses.selectors import programmes as find
from courses.selectors.enrolments import differences, students_on
from courses.services import programmes as services

READ_OR_WRITE = ["GET", "HEAD", "POST"]


@require_safe
@for_staff
def programme_list(request: MemberRequest) -> HttpResponse:
    """Query budget: one for the versions, one for students on none, whatever their number."""
    academy = request.member.academy
    context = {
        "versions": find.programme_versions(academy),
        "not_enrolled": find.not_enrolled(academy).count(),
    }
    return render(request, "courses/programme_list.html", context)


@require_http_methods(READ_OR_WRITE)
@for_owner
def programme_new(request: MemberRequest) -> HttpResponse:
    form = NameForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        academy, name = request.member.academy, form.cleaned_data["name"]
        try:
            draft = services.add_programme(
                academy=academy, name=name, actor=request.member, now=timezone.now()
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"{name} is added as a draft. Complete it, then publish it.")
            return redirect("courses:programme-edit", draft.pk)
    return render(request, "courses/programme_name.html", {"form": form})


@require_safe
@for_staff
def version(request: MemberRequest, version_id: int) -> HttpResponse:
    """Query budget: four for the version and its students, whatever their number."""
    found = find.version(request.member.academy, version_id)
    context = {"version": found, "names": find.names(), "students": students_on(found)}
    return render(request, "courses/programme_version.html", context)


@require_http_methods(READ_OR_WRITE)
@for_owner
def name(request: MemberRequest, version_id: int) -> HttpResponse:
    found = find.version(request.member.academy, version_id)
    form = NameForm(
        request.POST if request.method == "POST" else None, initial={"name": found.programme.name}
    )
    if form.is_valid():
        try:
            services.rename_programme(
                programme=found.programme,
                name=form.cleaned_data["name"],
                actor=request.member,
                now=timezone.now(),
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The name is changed. Certificates issued before keep the old one.")
            return redirect("courses:programme-version", found.pk)
    return render(request, "courses/programme_name.html", {"form": form, "version": found})


@require_POST
@for_owner
def copy(request: MemberRequest, version_id: int) -> HttpResponse:
    found = find.version(request.member.academy, version_id)
    try:
        draft = services.copy_programme_version(version=found, actor=request.member, now=timezone.now())
    except services.ProgrammeDraftExists as error:
        messages.warning(request, error.message)
        return redirect("courses:programme-edit", error.details["draft_id"])
    messages.success(
        request, f"Version {draft.number} is a draft. Nobody is enrolled on it until you publish it."
    )
    return redirect("courses:programme-edit", draft.pk)


@require_http_methods(READ_OR_WRITE)
@for_owner
def edit(request: MemberRequest, version_id: int) -> HttpResponse:
    found = find.version(request.member.academy, version_id)
    if not found.is_open_draft:
        return redirect("courses:programme-version", found.pk)
    data = request.POST if request.method == "POST" else None
    form = ProgrammeDraftForm(found, dict(find.names().skills), data)
    if data is not None and form.is_valid():
        try:
            services.change_programme_draft(
                version=found, content=form.content(), actor=request.member, now=timezone.now()
            )
        except services.ProgrammeCannotBe as error:
            form.show_problems(error.problems)
        else:
            return _after_saving(request, found)
    return render(request, "courses/programme_edit.html", {"form": form, "version": found})


@require_http_methods(READ_OR_WRITE)
@for_owner
def publish(request: MemberRequest, version_id: int) -> HttpResponse:
    found = find.version(request.member.academy, version_id)
    if not found.is_open_draft:
        return redirect("courses:programme-version", found.pk)
    problems = publish_problems(found.content, today=request.member.academy.date_of(timezone.now()))
    if request.method == "POST" and not problems:
        services.publish_programme_version(version=found, actor=request.member, now=timezone.now())
        messages.success(request, f"Version {found.number} is published. Students can be enrolled on it.")
        return redirect("courses:programme-version", found.pk)
    before = find.published_before(found)
    context = {
        "version": found,
        "problems": problems,
        "names": find.names(),
        "before": before,
        "differences": differences(before, found) if before else (),
    }
    return render(request, "courses/programme_publish.html", context)


@require_http_methods(READ_OR_WRITE)
@for_owner
def discard(request: MemberRequest, version_id: int) -> HttpResponse:
    found = find.version(request.member.academy, version_id)
    if not found.is_open_draft:
        return redirect("courses:programme-version", found.pk)
    if request.method == "POST":
        services.discard_programme_draft(version=found, actor=request.member, now=timezone.now())
        messages.success(request, f"The draft of version {found.number} is gone.")
        return redirect("courses:programme-list")
    return render(request, "courses/programme_discard.html", {"version": found})


@require_http_methods(READ_OR_WRITE)
@for_owner
def retire(request: MemberRequest, version_id: int) -> HttpResponse:
    found = find.version(request.member.academy, version_id)
    if found.programme.retired_at:
        return redirect("courses:programme-version", found.pk)
    if request.method == "POST":
        services.retire_programme(programme=found.programme, actor=request.member, now=timezone.now())
        messages.success(request, f"{found.programme.name} is retired. The records keep it.")
        return redirect("courses:programme-list")
    return render(request, "courses/programme_retire.html", {"version": found})


def _after_saving(request: MemberRequest, draft: ProgrammeVersion) -> HttpResponse:
    messages.success(request, "The draft is saved.")
    if "publish" in request.POST:
        return redirect("courses:programme-publish", draft.pk)
    return redirect("courses:programme-edit", draft.pk)
