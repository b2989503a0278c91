from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError
from courses.selectors import briefs as find
from courses.selectors.brief_sheet import brief_sheet
from courses.selectors.map_guides import map_guide
from courses.services.briefs import retire_brief

READ_OR_WRITE = ["GET", "HEAD", "POST"]


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
