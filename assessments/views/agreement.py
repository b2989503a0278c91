"""How evenly educators mark, in sentences, pictures and tables; everything heavy is computed beforehand."""

from datetime import date, datetime, time, timedelta
from secrets import token_urlsafe
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from academy.access import MemberRequest, for_owner, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from academy.jobs import enqueue
from academy.models import Academy
from assessments.forms.agreement import UntilForm
from assessments.forms.second_marks import RateForm
from assessments.selectors.agreement import agreement_state, severity_table
from assessments.selectors.second_marks import latest_second_marks, rate_of
from assessments.selectors.standard_sets import standard_sets
from assessments.services.second_choice import change_rate
from assessments.views.bench import READ_OR_WRITE

SHOWN = 10


@require_safe
@for_staff
def agreement(request: MemberRequest) -> HttpResponse:
    academy = request.member.academy
    state = agreement_state(academy)
    context = {
        "state": state,
        "severity": severity_table(academy, state.findings),
        "rate": rate_of(academy),
        "second_marks": latest_second_marks(academy, SHOWN),
        "standards": standard_sets(academy)[:SHOWN],
        "form": UntilForm(),
    }
    return render(request, "assessments/agreement.html", context)


@require_POST
@for_staff
def compute(request: MemberRequest) -> HttpResponse:
    """Ask for a new report; the page keeps showing the old one until it is there."""
    form = UntilForm(request.POST)
    if not form.is_valid():
        messages.error(request, "The day cannot be read. Choose it again.")
        return redirect("assessments:agreement")
    academy = request.member.academy
    day = form.cleaned_data["until"]
    until = _end_of(academy, day).isoformat() if day else ""
    enqueue("assessments.tasks.compute_agreement", academy_id=academy.pk, until=until)
    messages.success(request, "The figures are being computed. Reload this page in a moment.")
    return redirect("assessments:agreement")


def _end_of(academy: Academy, day: date) -> datetime:
    return datetime.combine(day + timedelta(days=1), time.min, ZoneInfo(academy.time_zone))


@require_http_methods(READ_OR_WRITE)
@for_owner
def rate(request: MemberRequest) -> HttpResponse:
    """How many sets get a blind second mark."""
    now_set = rate_of(request.member.academy)
    form = RateForm(
        request.POST if request.method == "POST" else None,
        initial={"one_in": now_set.one_in if now_set else 0},
    )
    if form.is_valid():
        one_in = form.cleaned_data["one_in"]
        try:
            change_rate(actor=request.member, one_in=one_in, seed=token_urlsafe(24), now=timezone.now())
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The rate is saved; it counts for sets signed from now on.")
            return redirect("assessments:agreement")
    return render(request, "assessments/agreement_rate.html", {"form": form})
