"""The owner's list of people, and one person's place."""

from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_owner
from academy.errors import DomainError
from academy.forms import PlaceForm, show_refusal
from academy.selectors import people as find
from academy.selectors.invitations import open_invitations
from academy.services.people import change_role, end_membership

PEOPLE_A_PAGE = 50


@for_owner
@require_safe
def people(request: MemberRequest) -> HttpResponse:
    """Query budget: constant, whatever the number of people."""
    academy = request.member.academy
    search = request.GET.get("q", "").strip()[:120]
    found = Paginator(find.people(academy, search), PEOPLE_A_PAGE)
    context = {
        "page": found.get_page(request.GET.get("page")),
        "search": search,
        "query": urlencode({"q": search}) if search else "",
        "invitations": open_invitations(academy)[:PEOPLE_A_PAGE],
        "cohorts": find.cohorts_with_sizes(academy),
        "now": timezone.now(),
    }
    return render(request, "academy/people.html", context)


@for_owner
@require_http_methods(["GET", "HEAD", "POST"])
def person(request: MemberRequest, member_id: int) -> HttpResponse:
    member = find.member(request.member.academy, member_id)
    form = PlaceForm(member.academy, request.POST) if request.method == "POST" else PlaceForm.of(member)
    if form.is_valid():
        try:
            change_role(actor=request.member, member=member, now=timezone.now(), **form.cleaned_data)
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"{member.name}'s place is saved.")
            return redirect("academy:people")
    return render(request, "academy/person.html", {"form": form, "person": member})


@for_owner
@require_http_methods(["GET", "HEAD", "POST"])
def person_leave(request: MemberRequest, member_id: int) -> HttpResponse:
    member = find.member(request.member.academy, member_id)
    refusal = ""
    if request.method == "POST":
        try:
            end_membership(actor=request.member, member=member, now=timezone.now())
        except DomainError as error:
            refusal = error.message
        else:
            messages.success(request, f"{member.name} no longer has a place here. Their records are kept.")
            return redirect("academy:people")
    return render(request, "academy/person_leave.html", {"person": member, "refusal": refusal})
