from datetime import timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from academy.access import MemberRequest, for_students
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.bookings import UNSEEN, CancelForm, SeenForm, WaitForm
from courses.models import SessionKind
from courses.selectors import bookings as find
from courses.selectors.rota import rules_of, session_kinds
from courses.services import bookings as services
from courses.services.waiting import stop_waiting, wait_for_place

READ_OR_WRITE = ["GET", "HEAD", "POST"]
PAST_SHOWN = 20


@require_safe
@for_students
def my_times(request: MemberRequest) -> HttpResponse:
    """Query budget: four, whatever the number of bookings."""
    academy, now = request.member.academy, timezone.now()
    rules = rules_of(academy)
    context = {
        "coming": find.open_bookings_of(request.member, now),
        "past": find.past_bookings_of(request.member, now)[:PAST_SHOWN],
        "waiting": find.waits_to_come(academy, academy.date_of(now)).filter(student=request.member),
        "rules": rules,
        "fixed_until": now + timedelta(hours=rules.notice_hours),
    }
    return render(request, "courses/my_times.html", context)


@require_POST
@for_students
def my_booking_accept(request: MemberRequest, uid: UUID) -> HttpResponse:
    found = find.own_booking(request.member, uid)
    form = SeenForm(request.POST)
    seen = form.cleaned_data["seen"] if form.is_valid() else UNSEEN
    try:
        services.accept_booking(booking=found, actor=request.member, seen=seen, now=timezone.now())
    except DomainError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, "Accepted. It is in your calendar soon.")
    return redirect("courses:my-times")


@require_http_methods(READ_OR_WRITE)
@for_students
def my_booking_cancel(request: MemberRequest, uid: UUID) -> HttpResponse:
    """Cancels an accepted booking, or declines a proposed one."""
    found = find.own_booking(request.member, uid)
    form = CancelForm(request.POST if request.method == "POST" else None, initial={"seen": found.sequence})
    if form.is_valid():
        try:
            services.cancel_booking(
                booking=found, actor=request.member, now=timezone.now(), **form.cleaned_data
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The place is free for somebody else. Your educator is told.")
            return redirect("courses:my-times")
    return render(request, "courses/my_booking_cancel.html", {"form": form, "booking": found})


@require_http_methods(READ_OR_WRITE)
@for_students
def wait(request: MemberRequest) -> HttpResponse:
    academy, now = request.member.academy, timezone.now()
    kinds = session_kinds(academy).exclude(form=SessionKind.Form.LIVE_MODEL_DAY)
    form = WaitForm(kinds, academy.date_of(now), request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            wait_for_place(student=request.member, actor=request.member, now=now, **form.cleaned_data)
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "You are on the waiting list. An offer comes by e-mail.")
            return redirect("courses:my-times")
    return render(request, "courses/wait.html", {"form": form})


@require_POST
@for_students
def wait_stop(request: MemberRequest, waiting_id: int) -> HttpResponse:
    found = find.own_wait(request.member, waiting_id)
    stop_waiting(waiting=found, actor=request.member, now=timezone.now())
    messages.success(request, "You no longer wait for it.")
    return redirect("courses:my-times")
