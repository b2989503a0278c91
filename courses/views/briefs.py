from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.briefs import BriefForm, BriefSearchForm
from courses.selectors import briefs as find
from courses.selectors.brief_sheet import brief_sheet
from courses.selectors.map_guides import map_guide
from courses.services.briefs import BriefMovedOn, add_brief, content_of, retire_brief, revise_brief

READ_OR_WRITE = ["GET", "HEAD", "POST"]


@require_safe
@for_staff
def brief_list(request: MemberRequest) -> HttpResponse:
    """Query budget: three for the briefs, whatever their number."""
    form = BriefSearchForm(request.GET or None)
    found = find.newest_versions(request.member.academy, form.search())
    rows = [(version, find.target_minutes(version, form.nth_set())) for version in found]
    context = {"form": form, "rows": rows, "nth": form.nth_set(), "is_search": bool(request.GET)}
    return render(request, "courses/brief_list.html", context)


@require_safe
@for_staff
def brief(request: MemberRequest, brief_id: int) -> HttpResponse:
    """The newest version, or the one named in ``?version=``."""
    one = find.brief(request.member.academy, brief_id)
    number = request.GET.get("version", "")
    version = find.version(one, int(number)) if number.isdecimal() else find.newest_version(one)
    guide = map_guide(request.member.academy)
    context = {"brief": one, "sheet": brief_sheet(version, guide), "versions": find.versions(one)}
    return render(request, "courses/brief.html", context)


@require_http_methods(READ_OR_WRITE)
@for_staff
def brief_new(request: MemberRequest) -> HttpResponse:
    form = BriefForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        academy, content = request.member.academy, form.content()
        try:
            made = add_brief(academy=academy, content=content, actor=request.member, now=timezone.now())
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"The brief {made.brief.name} is made.")
            return redirect("courses:brief", made.brief_id)
    return render(request, "courses/brief_form.html", {"form": form})


@require_http_methods(READ_OR_WRITE)
@for_staff
def brief_edit(request: MemberRequest, brief_id: int) -> HttpResponse:
    one = find.brief(request.member.academy, brief_id)
    newest = find.newest_version(one)
    initial = BriefForm.initial_of(content_of(newest), newest.number)
    form = BriefForm(request.POST if request.method == "POST" else None, initial=initial)
    if form.is_valid():
        content, base = form.content(), form.cleaned_data["base"]
        try:
            made = revise_brief(
                brief=one, content=content, actor=request.member, now=timezone.now(), base=base
            )
        except DomainError as error:
            show_refusal(form, error)
            if isinstance(error, BriefMovedOn):
                form.start_from(newest.number)
        else:
            messages.success(
                request, f"Version {made.number} of {content.name} is what new sets are built to."
            )
            return redirect("courses:brief", one.pk)
    context = {"form": form, "brief": one, "newest": newest, "next_number": newest.number + 1}
    return render(request, "courses/brief_form.html", context)


@require_http_methods(READ_OR_WRITE)
@for_staff
def brief_retire(request: MemberRequest, brief_id: int) -> HttpResponse:
    one = find.brief(request.member.academy, brief_id)
    refusal = ""
    if request.method == "POST":
        try:
            retire_brief(brief=one, actor=request.member, now=timezone.now())
        except DomainError as error:
            refusal = error.message
        else:
            messages.success(request, f"{one.name} is retired. Sets built to it keep it.")
            return redirect("courses:brief-list")
    return render(request, "courses/brief_retire.html", {"brief": one, "refusal": refusal})
