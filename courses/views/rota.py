from datetime import date, timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.bookings import CancelForm
from courses.models import Booking
from courses.selectors import bookings as find
from courses.selectors.rota_week import WEEK, monday_of, rota_days
from courses.services import bookings as services

READ_OR_WRITE = ["GET", "HEAD", "POST"]
AGENDA_DAYS = 28
SHOWN_AROUND = timedelta(days=3653)


@require_safe
@for_staff
def rota(request: MemberRequest) -> HttpResponse:
    """One week by its days, and who waits. Query budget: six, whatever the number of bookings."""
    now = timezone.now()
    first_on = monday_of(_day(request))
    academy = request.member.academy
    context = {
        "week": rota_days(academy, first_on, 7, now=now),
        "waiting": find.waits_to_come(academy, academy.date_of(now)),
        "before": first_on - WEEK,
        "after": first_on + WEEK,
    }
    return render(request, "courses/rota.html", context)


@require_safe
@for_staff
def agenda(request: MemberRequest) -> HttpResponse:
    """Four weeks as one list. Query budget: five, whatever the number of bookings."""
    first_on = _day(request)
    ahead = timedelta(days=AGENDA_DAYS)
    context = {
        "agenda": rota_days(request.member.academy, first_on, AGENDA_DAYS, now=timezone.now()),
        "before": first_on - ahead,
        "after": first_on + ahead,
    }
    return render(request, "courses/agenda.html", context)


@require_safe
@for_staff
def booking(request: MemberRequest, uid: UUID) -> HttpResponse:
    return _show(request, find.booking(request.member.academy, uid))


@require_http_methods(READ_OR_WRITE)
@for_staff
def booking_cancel(request: MemberRequest, uid: UUID) -> HttpResponse:
    found = find.booking(request.member.academy, uid)
    form = CancelForm(request.POST if request.method == "POST" else None, initial={"seen": found.sequence})
    if form.is_valid():
        try:
            services.cancel_booking(
                booking=found, actor=request.member, now=timezone.now(), **form.cleaned_data
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The booking is cancelled. Those concerned are told.")
            return redirect("courses:rota")
    return render(request, "courses/booking_cancel.html", {"form": form, "booking": found})


@require_POST
@for_staff
def booking_came(request: MemberRequest, uid: UUID) -> HttpResponse:
    """Who came, said once the session has begun."""
    found = find.booking(request.member.academy, uid)
    mark = services.mark_missed if request.POST.get("came") == "no" else services.mark_attended
    try:
        mark(booking=found, actor=request.member, now=timezone.now())
    except DomainError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, "Saved.")
    return redirect("courses:booking", uid)


def _show(request: MemberRequest, found: Booking) -> HttpResponse:
    context = {
        "booking": found,
        "changes": found.changes.select_related("made_by__user"),
        "has_begun": found.starts_at <= timezone.now(),
    }
    return render(request, "courses/booking.html", context)


def _day(request: MemberRequest) -> date:
    """The day asked for; today when there is none that can be read, or it is years away."""
    today = request.member.academy.date_of(timezone.now())
    try:
        asked = date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return today
    return asked if abs(asked - today) <= SHOWN_AROUND else today
