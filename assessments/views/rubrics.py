from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from academy.access import MemberRequest, for_members, for_owner, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from assessments.forms.rubrics import BriefRubricForm, CriterionForm, HygieneLinesForm, SamplingForm
from assessments.models import RubricVersion
from assessments.selectors import rubrics as find
from assessments.selectors.rubric_sheet import rubric_sheet
from assessments.services.rubric_drafts import change_criterion, change_hygiene_lines, change_sampling
from assessments.services.rubric_problems import publish_problems
from assessments.services.rubrics import (
    DraftExists,
    choose_rubric,
    copy_rubric_version,
    discard_draft,
    publish_rubric_version,
)
from courses.selectors import briefs
from courses.selectors.catalogue import faults

READ_OR_WRITE = ["GET", "HEAD", "POST"]


@require_safe
@for_members
def rubric_list(request: MemberRequest) -> HttpResponse:
    """Query budget: one for the versions, whatever their number; students see published ones."""
    academy = request.member.academy
    found = find.versions(academy) if request.member.is_staff_here else find.published_versions(academy)
    return render(request, "assessments/rubric_list.html", {"versions": found})


@require_safe
@for_members
def version(request: MemberRequest, version_id: int) -> HttpResponse:
    """Query budget: four for the version, whatever its length."""
    found = find.version_for(request.member, version_id)
    return render(
        request, "assessments/rubric_version.html", {"version": found, "sheet": rubric_sheet(found)}
    )


@require_POST
@for_owner
def copy(request: MemberRequest, version_id: int) -> HttpResponse:
    found = find.version(request.member.academy, version_id)
    try:
        draft = copy_rubric_version(version=found, actor=request.member, now=timezone.now())
    except DraftExists as error:
        messages.warning(request, error.message)
        return redirect("assessments:rubric-edit", error.details["draft_id"])
    messages.success(
        request, f"Version {draft.number} is a draft. Nobody is marked with it until you publish it."
    )
    return redirect("assessments:rubric-edit", draft.pk)


@require_http_methods(READ_OR_WRITE)
@for_owner
def edit(request: MemberRequest, version_id: int) -> HttpResponse:
    """A draft's sampling and hygiene lines, and the way to each criterion."""
    found = find.version(request.member.academy, version_id)
    if found.is_published:
        return redirect("assessments:rubric-version", found.pk)
    sampling, lines = _draft_forms(request, found)
    if sampling.is_bound and sampling.is_valid() and _saved_sampling(request, found, sampling):
        return redirect("assessments:rubric-edit", found.pk)
    if lines.is_bound and lines.is_valid():
        change_hygiene_lines(version=found, lines=lines.lines(), actor=request.member, now=timezone.now())
        messages.success(request, "The hygiene lines are saved in the draft.")
        return redirect("assessments:rubric-edit", found.pk)
    context = {"version": found, "sampling": sampling, "lines": lines, "sheet": rubric_sheet(found)}
    return render(request, "assessments/rubric_edit.html", context)


@require_http_methods(READ_OR_WRITE)
@for_owner
def criterion(request: MemberRequest, criterion_id: int) -> HttpResponse:
    found = find.criterion(request.member.academy, criterion_id)
    if found.version.is_published:
        return redirect("assessments:rubric-version", found.version_id)
    form = CriterionForm(found, list(faults()), request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            change_criterion(
                criterion=found, content=form.content(), actor=request.member, now=timezone.now()
            )
        except DomainError as error:
            form.show_refusal(error)
        else:
            messages.success(request, f"{form.content().name} is saved in the draft.")
            return redirect("assessments:rubric-edit", found.version_id)
    return render(request, "assessments/rubric_criterion.html", {"form": form, "criterion": found})


@require_http_methods(READ_OR_WRITE)
@for_owner
def publish(request: MemberRequest, version_id: int) -> HttpResponse:
    found = find.version(request.member.academy, version_id)
    if found.is_published:
        return redirect("assessments:rubric-version", found.pk)
    problems = publish_problems(found)
    if request.method == "POST" and not problems:
        publish_rubric_version(version=found, actor=request.member, now=timezone.now())
        messages.success(request, f"Version {found.number} is published. New sets are marked with it.")
        return redirect("assessments:rubric-version", found.pk)
    context = {"version": found, "problems": problems, "sheet": rubric_sheet(found)}
    return render(request, "assessments/rubric_publish.html", context)


@require_http_methods(READ_OR_WRITE)
@for_owner
def discard(request: MemberRequest, version_id: int) -> HttpResponse:
    found = find.version(request.member.academy, version_id)
    if found.is_published:
        return redirect("assessments:rubric-version", found.pk)
    if request.method == "POST":
        discard_draft(version=found, actor=request.member, now=timezone.now())
        messages.success(request, f"The draft of version {found.number} is gone.")
        return redirect("assessments:rubric-list")
    return render(request, "assessments/rubric_discard.html", {"version": found})


@require_http_methods(READ_OR_WRITE)
@for_staff
def brief_rubric(request: MemberRequest, brief_id: int) -> HttpResponse:
    brief = briefs.brief(request.member.academy, brief_id)
    published = find.published_versions(request.member.academy)
    data = request.POST if request.method == "POST" else None
    form = BriefRubricForm(published, find.chosen_version_id(brief), data)
    if form.is_valid():
        chosen = form.cleaned_data["version"]
        choose_rubric(brief=brief, version=chosen, actor=request.member, now=timezone.now())
        messages.success(
            request, f"New sets on {brief.name} are marked with {chosen or 'the newest version'}."
        )
        return redirect("courses:brief", brief.pk)
    return render(request, "assessments/rubric_choice.html", {"form": form, "brief": brief})


def _draft_forms(request: MemberRequest, draft: RubricVersion) -> tuple[SamplingForm, HygieneLinesForm]:
    """Two forms share the page; the button pressed says which was sent."""
    part = request.POST.get("part")
    initial = {name: getattr(draft, name) for name in SamplingForm.base_fields}
    sampling = SamplingForm(request.POST if part == "sampling" else None, initial=initial)
    lines = HygieneLinesForm(list(draft.hygiene_lines.all()), request.POST if part == "lines" else None)
    return sampling, lines


def _saved_sampling(request: MemberRequest, draft: RubricVersion, form: SamplingForm) -> bool:
    try:
        change_sampling(version=draft, sampling=form.sampling(), actor=request.member, now=timezone.now())
    except DomainError as error:
        show_refusal(form, error)
        return False
    messages.success(request, "The numbers to inspect are saved in the draft.")
    return True
