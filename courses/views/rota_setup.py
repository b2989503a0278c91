from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from academy.access import MemberRequest, for_owner
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.rota import (
    ClosedDayForm,
    KindForm,
    RoomForm,
    RulesForm,
    TaughtForm,
    TimeAwayForm,
    WeekForm,
)
from courses.models import Room, SessionKind
from courses.selectors import rota as find
from courses.services import rota as services

READ_OR_WRITE = ["GET", "HEAD", "POST"]
SETUP = "courses:rota-setup"


@require_safe
@for_owner
def setup(request: MemberRequest) -> HttpResponse:
    """Everything a rota is made of. Query budget: eight, whatever the number of rows."""
    return _setup(request, ClosedDayForm())


@require_http_methods(READ_OR_WRITE)
@for_owner
def room_new(request: MemberRequest) -> HttpResponse:
    return _room(request, Room(academy=request.member.academy), {})


@require_http_methods(READ_OR_WRITE)
@for_owner
def room_edit(request: MemberRequest, room_id: int) -> HttpResponse:
    room = find.room(request.member.academy, room_id)
    return _room(request, room, RoomForm.initial_of(room))


@require_POST
@for_owner
def room_retire(request: MemberRequest, room_id: int) -> HttpResponse:
    room = find.room(request.member.academy, room_id)
    try:
        services.retire_room(room=room, actor=request.member, now=timezone.now())
    except DomainError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"{room.name} is no longer used. It stays in the records.")
    return redirect(SETUP)


@require_http_methods(READ_OR_WRITE)
@for_owner
def kind_new(request: MemberRequest) -> HttpResponse:
    return _kind(request, SessionKind(academy=request.member.academy), {"minutes": 90, "capacity": 2})


@require_http_methods(READ_OR_WRITE)
@for_owner
def kind_edit(request: MemberRequest, kind_id: int) -> HttpResponse:
    kind = find.session_kind(request.member.academy, kind_id)
    names = ("name", "form", "minutes", "capacity")
    return _kind(request, kind, {name: getattr(kind, name) for name in names})


@require_POST
@for_owner
def kind_retire(request: MemberRequest, kind_id: int) -> HttpResponse:
    kind = find.session_kind(request.member.academy, kind_id)
    services.retire_kind(kind=kind, actor=request.member, now=timezone.now())
    messages.success(request, f"{kind.name} is no longer offered. What is booked stays.")
    return redirect(SETUP)


@require_http_methods(READ_OR_WRITE)
@for_owner
def opening(request: MemberRequest) -> HttpResponse:
    academy = request.member.academy
    form = WeekForm(academy.opening_hours.all(), request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            services.set_opening(
                academy=academy, hours=form.hours(), actor=request.member, now=timezone.now()
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The opening hours are saved. What is booked stays as it is.")
            return redirect(SETUP)
    return render(request, "courses/rota_opening.html", {"form": form})


@require_POST
@for_owner
def day_close(request: MemberRequest) -> HttpResponse:
    form = ClosedDayForm(request.POST)
    if not form.is_valid():
        return _setup(request, form)
    services.close_day(
        academy=request.member.academy, actor=request.member, now=timezone.now(), **form.cleaned_data
    )
    messages.success(request, "Closed on that day. Bookings already made for it stay until you move them.")
    return redirect(SETUP)


@require_POST
@for_owner
def day_open(request: MemberRequest, closed_id: int) -> HttpResponse:
    closed = find.closed_day(request.member.academy, closed_id)
    services.open_day(closed=closed, actor=request.member, now=timezone.now())
    messages.success(request, "The usual hours hold on that day again.")
    return redirect(SETUP)


@require_http_methods(READ_OR_WRITE)
@for_owner
def rules(request: MemberRequest) -> HttpResponse:
    academy = request.member.academy
    form = RulesForm(request.POST if request.method == "POST" else None, instance=find.rules_of(academy))
    if form.is_valid():
        try:
            services.change_rules(
                academy=academy, changes=form.cleaned_data, actor=request.member, now=timezone.now()
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The rules are saved.")
            return redirect(SETUP)
    return render(request, "courses/rota_rules.html", {"form": form})


@require_http_methods(READ_OR_WRITE)
@for_owner
def educator(request: MemberRequest, member_id: int) -> HttpResponse:
    """An educator's hours of the week and the skills she may teach."""
    row = find.educator(request.member.academy, member_id)
    given = request.POST if request.method == "POST" else None
    taught = [each.skill_id for each in row.taught_skills.all()]
    week, skills = WeekForm(row.working_hours.all(), given), TaughtForm(given, initial={"skills": taught})
    if week.is_valid() and skills.is_valid():
        try:
            services.set_working(
                educator=row,
                hours=week.hours(),
                skills=skills.cleaned_data["skills"],
                actor=request.member,
                now=timezone.now(),
            )
        except DomainError as error:
            show_refusal(week, error)
        else:
            messages.success(request, f"The hours of {row.name} are saved.")
            return redirect(SETUP)
    context = {"educator": row, "form": week, "skills": skills, "away": row.times_away.all()}
    return render(request, "courses/rota_educator.html", {**context, "away_form": TimeAwayForm()})


@require_http_methods(READ_OR_WRITE)
@for_owner
def away(request: MemberRequest, member_id: int) -> HttpResponse:
    row = find.educator(request.member.academy, member_id)
    form = TimeAwayForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            services.add_time_away(
                educator=row, actor=request.member, now=timezone.now(), **form.cleaned_data
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "Saved. Bookings already made for these days stay until you move them.")
            return redirect("courses:rota-educator", member_id)
    return render(request, "courses/rota_away.html", {"educator": row, "form": form})


@require_POST
@for_owner
def away_drop(request: MemberRequest, away_id: int) -> HttpResponse:
    row = find.time_away(request.member.academy, away_id)
    services.drop_time_away(away=row, actor=request.member, now=timezone.now())
    return redirect("courses:rota-educator", row.educator_id)


def _setup(request: MemberRequest, form: ClosedDayForm) -> HttpResponse:
    academy = request.member.academy
    today = academy.date_of(timezone.now())
    context = {
        "rooms": find.rooms(academy),
        "kinds": find.session_kinds(academy),
        "opening": academy.opening_hours.all(),
        "closed": academy.closed_days.filter(on__gte=today),
        "educators": find.educators(academy).prefetch_related("working_hours", "taught_skills"),
        "rules": find.rules_of(academy),
        "form": form,
    }
    return render(request, "courses/rota_setup.html", context)


def _room(request: MemberRequest, room: Room, initial: dict[str, str]) -> HttpResponse:
    form = RoomForm(request.POST if request.method == "POST" else None, initial=initial)
    if form.is_valid():
        try:
            services.save_room(
                room=room,
                name=form.cleaned_data["name"],
                benches=form.bench_names(),
                actor=request.member,
                now=timezone.now(),
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"{room.name} is saved.")
            return redirect(SETUP)
    return _form(request, form, "Change a room" if room.pk else "Add a room")


def _kind(request: MemberRequest, kind: SessionKind, initial: dict[str, object]) -> HttpResponse:
    form = KindForm(request.POST if request.method == "POST" else None, initial=initial)
    if form.is_valid():
        try:
            services.save_kind(kind=kind, content=form.content(), actor=request.member, now=timezone.now())
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"{kind.name} is saved.")
            return redirect(SETUP)
    return _form(request, form, "Change a kind of session" if kind.pk else "Add a kind of session")


def _form(request: MemberRequest, form: BaseForm, title: str) -> HttpResponse:
    return render(request, "courses/rota_form.html", {"form": form, "title": title})
