from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.briefs import BriefCopyForm, BriefSearchForm
from courses.selectors import briefs as find
from courses.services.briefs import copy_brief


@require_safe
@for_staff
def brief_list(request: MemberRequest) -> HttpResponse:
    """Newest versions by name, a page at a time. Three queries for the briefs, whatever their number."""
    searched = request.GET.copy()
    number = searched.pop("page", ["1"])[-1]
    form = BriefSearchForm(searched or None)
    page = find.library_page(request.member.academy, form.search(), number)
    nth = form.nth_set()
    context = {
        "form": form,
        "page": page,
        "rows": [(version, find.target_minutes(version, nth)) for version in page],
        "nth": nth,
        "is_search": any(searched.values()),
        "query": searched.urlencode(),
    }
    return render(request, "courses/brief_list.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@for_staff
def brief_copy(request: MemberRequest, brief_id: int) -> HttpResponse:
    """A brief of its own from the newest version, opened in the editor once it has a name."""
    version = find.newest_version(find.brief(request.member.academy, brief_id))
    form = BriefCopyForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        name = form.cleaned_data["name"]
        try:
            made = copy_brief(version=version, name=name, actor=request.member, now=timezone.now())
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"{name} is made. Change what is to differ from {version.brief.name}.")
            return redirect("courses:brief-edit", made.brief_id)
    return render(request, "courses/brief_copy.html", {"form": form, "version": version})
