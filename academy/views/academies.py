"""The academy's own settings and its cohorts."""

from dataclasses import asdict

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from academy.access import MemberRequest, for_owner
from academy.errors import DomainError
from academy.forms import AcademyForm, CohortForm, show_refusal
from academy.models import Cohort
from academy.selectors import people as find
from academy.services.academies import add_cohort, change_academy, change_cohort, details_of

READ_OR_WRITE = ["GET", "HEAD", "POST"]


@for_owner
@require_http_methods(READ_OR_WRITE)
def cohort_new(request: MemberRequest) -> HttpResponse:
    form = CohortForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            cohort = add_cohort(actor=request.member, now=timezone.now(), **form.cleaned_data)
        except DomainError as error:
            show_refusal(form, error)
        else:
            return _cohort_saved(request, cohort)
    return render(request, "academy/cohort_form.html", {"form": form})


@for_owner
@require_http_methods(READ_OR_WRITE)
def cohort_edit(request: MemberRequest, cohort_id: int) -> HttpResponse:
    cohort = find.cohort(request.member.academy, cohort_id)
    now_set = {"name": cohort.name, "starts_on": cohort.starts_on, "ends_on": cohort.ends_on}
    form = CohortForm(request.POST if request.method == "POST" else None, initial=now_set)
    if form.is_valid():
        try:
            saved = change_cohort(
                actor=request.member, cohort=cohort, now=timezone.now(), **form.cleaned_data
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            return _cohort_saved(request, saved)
    return render(request, "academy/cohort_form.html", {"form": form, "cohort": cohort})


@for_owner
@require_http_methods(READ_OR_WRITE)
def academy_settings(request: MemberRequest) -> HttpResponse:
    now_set = asdict(details_of(request.member.academy))
    form = AcademyForm(request.POST if request.method == "POST" else None, initial=now_set)
    if form.is_valid():
        try:
            change_academy(actor=request.member, details=form.details(), now=timezone.now())
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The academy's settings are saved.")
            return redirect("academy:settings")
    return render(request, "academy/settings.html", {"form": form, "time_zones": form.time_zones()})


def _cohort_saved(request: MemberRequest, cohort: Cohort) -> HttpResponse:
    messages.success(request, f"The cohort {cohort.name} is saved.")
    return redirect("academy:people")
