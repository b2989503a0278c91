"""What students need to train again: seen by staff, asked for by hand, counted, and never clicked away."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_owner, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from academy.models import Membership
from academy.selectors.people import cohorts
from assessments.forms.needs import CountForm, NeedForm, NeedRulesForm
from assessments.models import Need
from assessments.selectors import needs as find
from assessments.selectors.grades import local_day
from assessments.selectors.need_facts import rules_of
from assessments.selectors.second_marks import blind_sets, waiting_for
from assessments.selectors.students import student as student_here
from assessments.services.needs import change_need_rules, raise_need, record_drill_count
from assessments.views.students import whose

READ_OR_WRITE = ["GET", "HEAD", "POST"]
NEEDS_A_PAGE = 25


@require_safe
@for_staff
def need_list(request: MemberRequest) -> HttpResponse:
    academy, now = request.member.academy, timezone.now()
    kind = request.GET.get("kind", "")
    kind = kind if kind in Need.Kind.values else ""
    cohort = request.GET.get("cohort", "")
    chosen = int(cohort) if cohort.isascii() and cohort.isdigit() else None
    blind = set(blind_sets(request.member).values())
    found = find.open_needs(academy, kind=kind, cohort_id=chosen, blind=blind)
    page = Paginator(found, NEEDS_A_PAGE).get_page(request.GET.get("page"))
    rest = request.GET.copy()
    rest.pop("page", None)
    context = {
        "page": page,
        "lines": find.need_lines(academy, list(page), now=now),
        "kinds": Need.Kind.choices,
        "kind": kind,
        "cohorts": cohorts(academy),
        "chosen": chosen,
        "query": rest.urlencode(),
        "hidden": len(blind),
    }
    return render(request, "assessments/need_list.html", context)


@require_safe
@for_staff
def student_needs(request: MemberRequest, student_id: int) -> HttpResponse:
    """Who marks a set of this student blind waits for it, as for everything that rests on marks."""
    found = student_here(request.member.academy, student_id)
    if found.pk in blind_sets(request.member).values():
        return _blind(request, found)
    context = {
        **whose(request.member, found, "Needs"),
        "needs": find.needs_of(found, now=timezone.now()),
    }
    return render(request, "assessments/student_needs.html", context)


@require_http_methods(READ_OR_WRITE)
@for_staff
def need_raise(request: MemberRequest, student_id: int) -> HttpResponse:
    found = student_here(request.member.academy, student_id)
    now = timezone.now()
    form = NeedForm(local_day(found.academy, now), request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            raise_need(student=found, wanted=form.wanted(), actor=request.member, now=now)
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"{found.name} sees it under Next practice.")
            return redirect("assessments:student-needs", found.pk)
    context = {**whose(request.member, found, "Needs"), "form": form}
    return render(request, "assessments/need_raise.html", context)


@require_http_methods(READ_OR_WRITE)
@for_staff
def need_count(request: MemberRequest, need_id: int) -> HttpResponse:
    found = find.open_need(request.member.academy, need_id)
    if found.student_id in blind_sets(request.member).values():
        return _blind(request, found.student)
    form = CountForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        given = form.cleaned_data
        try:
            record_drill_count(
                need=found,
                done=given["done"],
                clean_count=given["clean_count"],
                note=given["note"],
                actor=request.member,
                now=timezone.now(),
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The count is recorded.")
            return redirect("assessments:student-needs", found.student_id)
    context = {**whose(request.member, found.student, "Needs"), "form": form, "need": found}
    return render(request, "assessments/need_count.html", context)


@require_http_methods(READ_OR_WRITE)
@for_owner
def need_rules(request: MemberRequest) -> HttpResponse:
    academy = request.member.academy
    form = NeedRulesForm(request.POST) if request.method == "POST" else NeedRulesForm.of(rules_of(academy))
    if form.is_bound and form.is_valid():
        change_need_rules(
            academy=academy, rules=form.cleaned_data["rules"], actor=request.member, now=timezone.now()
        )
        messages.success(request, "Saved. The rules count for what is raised from now on.")
        return redirect("assessments:need-list")
    return render(request, "assessments/need_rules.html", {"form": form})


def _blind(request: MemberRequest, student: Membership) -> HttpResponse:
    context = {**whose(request.member, student), "second_marks": waiting_for(request.member, student)}
    return render(request, "assessments/student_blind.html", context)
