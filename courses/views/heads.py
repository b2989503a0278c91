from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.heads import HeadForm, StripForm
from courses.selectors import heads as find
from courses.services.heads import add_head, change_head, fit_new_strip, retire_head

READ_OR_WRITE = ["GET", "HEAD", "POST"]


@require_safe
@for_staff
def head_list(request: MemberRequest) -> HttpResponse:
    """Query budget: one for the heads, whatever their number."""
    today = request.member.academy.date_of(timezone.now())
    rows = [(head, find.strip_age_days(head, today)) for head in find.heads(request.member.academy)]
    return render(request, "courses/head_list.html", {"rows": rows})


@require_http_methods(READ_OR_WRITE)
@for_staff
def head_new(request: MemberRequest) -> HttpResponse:
    form = HeadForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        academy, content = request.member.academy, form.content()
        try:
            head = add_head(academy=academy, content=content, actor=request.member, now=timezone.now())
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"{head.name} is added.")
            return redirect("courses:head-list")
    return render(request, "courses/head_form.html", {"form": form})


@require_http_methods(READ_OR_WRITE)
@for_staff
def head_edit(request: MemberRequest, head_id: int) -> HttpResponse:
    head = find.head(request.member.academy, head_id)
    form = HeadForm(request.POST if request.method == "POST" else None, initial=HeadForm.initial_of(head))
    if form.is_valid():
        try:
            change_head(head=head, content=form.content(), actor=request.member, now=timezone.now())
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"{form.content().name} is saved.")
            return redirect("courses:head-list")
    return render(request, "courses/head_form.html", {"form": form, "head": head})


@require_http_methods(READ_OR_WRITE)
@for_staff
def head_strip(request: MemberRequest, head_id: int) -> HttpResponse:
    now = timezone.now()
    head = find.head(request.member.academy, head_id)
    today = {"strip_fitted_on": request.member.academy.date_of(now)}
    form = StripForm(request.POST if request.method == "POST" else None, initial=today)
    if form.is_valid():
        try:
            fit_new_strip(head=head, fitted_on=form.fitted_on(), actor=request.member, now=now)
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"{head.name} has a new strip. Its count of sets starts again.")
            return redirect("courses:head-list")
    return render(request, "courses/head_strip.html", {"form": form, "head": head})


@require_http_methods(READ_OR_WRITE)
@for_staff
def head_retire(request: MemberRequest, head_id: int) -> HttpResponse:
    head = find.head(request.member.academy, head_id)
    refusal = ""
    if request.method == "POST":
        try:
            retire_head(head=head, actor=request.member, now=timezone.now())
        except DomainError as error:
            refusal = error.message
        else:
            messages.success(request, f"{head.name} is retired. The records keep it.")
            return redirect("courses:head-list")
    return render(request, "courses/head_retire.html", {"head": head, "refusal": refusal})
