from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from academy.access import MemberRequest, for_staff, for_students
from academy.errors import DomainError, NotHere
from academy.models import Membership
from academy.selectors.people import students
from assessments.forms.bookings import ChosenForm, DayForm, WantedForm
from assessments.models import Need
from assessments.scoring.gate_state import OPEN
from assessments.selectors.needs import open_needs
from assessments.selectors.readiness import readiness_of
from assessments.services.retraining import book_for_need
from courses.forms.bookings import UNSEEN
from courses.models import Booking, Drill, SessionKind, Skill
from courses.selectors import bookings as find
from courses.selectors.free_places import Offer, offers_for
from courses.selectors.rota import bench, educators, rules_of, session_kinds
from courses.services.booking_checks import FARTHEST, Place
from courses.services.bookings import book, move_booking

READ_OR_WRITE = ["GET", "HEAD", "POST"]
DAYS_SHOWN = 14


@dataclass(frozen=True, slots=True)
class Wanted:
    """Whose session of which kind, for which skill; ``moved``: the booking that it takes the place of;
    ``need``: the need it is for."""

    student: Membership
    kind: SessionKind
    skill: Skill | None
    first_on: date
    moved: Booking | None = None
    need: Need | None = None


@require_http_methods(READ_OR_WRITE)
@for_staff
def booking_new(request: MemberRequest) -> HttpResponseBase:
    """Query budget: constant, whatever is booked."""
    academy = request.member.academy
    form = WantedForm(session_kinds(academy), students(academy), _today(request), request.GET or None)
    return _page(request, form, "courses:rota")


@require_http_methods(READ_OR_WRITE)
@for_students
def my_booking_new(request: MemberRequest) -> HttpResponseBase:
    """What a student books herself; live-model days are given by an educator."""
    kinds = session_kinds(request.member.academy).exclude(form=SessionKind.Form.LIVE_MODEL_DAY)
    form = WantedForm(kinds, None, _today(request), request.GET or None)
    return _page(request, form, "courses:my-times")


@require_http_methods(READ_OR_WRITE)
@for_staff
def booking_move(request: MemberRequest, uid: UUID) -> HttpResponseBase:
    return _move(request, find.booking(request.member.academy, uid), "courses:rota")


@require_http_methods(READ_OR_WRITE)
@for_students
def my_booking_move(request: MemberRequest, uid: UUID) -> HttpResponseBase:
    return _move(request, find.own_booking(request.member, uid), "courses:my-times")


def _page(request: MemberRequest, form: WantedForm, back: str) -> HttpResponseBase:
    wanted = None
    if form.is_valid():
        given = form.cleaned_data
        student = given.get("student", request.member)
        first_on = max(given["first_on"], _today(request))
        need = _need(request, student, given["skill"])
        wanted = Wanted(student, given["kind"], given["skill"], first_on, need=need)
        if request.method == "POST" and _is_done(request, wanted):
            return redirect(back)
    context = {"form": form, "back": back, **_offered(request, wanted)}
    return render(request, "assessments/booking_new.html", context)


def _move(request: MemberRequest, booking: Booking, back: str) -> HttpResponseBase:
    booking.student.academy = request.member.academy
    form = DayForm(_today(request), request.GET)
    first_on = form.cleaned_data["first_on"] if form.is_valid() else _today(request)
    wanted = Wanted(booking.student, booking.kind, booking.skill, first_on, booking)
    if request.method == "POST" and _is_done(request, wanted):
        return redirect(back)
    context = {"booking": booking, "back": back, **_offered(request, wanted)}
    return render(request, "assessments/booking_move.html", context)


def _offered(request: MemberRequest, wanted: Wanted | None) -> Mapping[str, object]:
    """The times that can be had, by day."""
    if wanted is None:
        return {"days": None}
    academy, now = request.member.academy, timezone.now()
    latest = _latest_day(request.member, now)
    last_on = min(wanted.first_on + timedelta(days=DAYS_SHOWN - 1), latest)
    found = (
        offers_for(
            wanted.student,
            wanted.kind,
            wanted.skill,
            (wanted.first_on, last_on),
            earliest=now,
            moved=wanted.moved,
        )
        if wanted.first_on <= last_on
        else []
    )
    return {
        "wanted": wanted,
        "last_on": last_on,
        "days": _by_day(found, ZoneInfo(academy.time_zone)),
        "latest": latest,
        "later": last_on + timedelta(days=1) if last_on < latest else None,
    }


def _latest_day(member: Membership, now: datetime) -> date:
    """The last day on which this member may book."""
    ahead = FARTHEST if member.is_staff_here else timedelta(days=rules_of(member.academy).days_ahead)
    return member.academy.date_of(now + ahead)


def _by_day(found: Sequence[Offer], zone: ZoneInfo) -> list[tuple[datetime, list[Offer]]]:
    groups = groupby(found, lambda offer: offer.starts_at.astimezone(zone).date())
    return [(offers[0].starts_at, offers) for offers in (list(group) for _, group in groups)]


def _is_done(request: MemberRequest, wanted: Wanted) -> bool:
    """Whether the chosen time is booked now; otherwise the page says why not and offers what is left."""
    form, now = ChosenForm(request.POST), timezone.now()
    if not form.is_valid():
        messages.error(request, "Choose one of the times.")
        return False
    try:
        _write(request.member, wanted, form.cleaned_data, now)
    except DomainError as error:
        messages.error(request, error.message)
        return False
    messages.success(request, "Moved. Those concerned are told." if wanted.moved else "Booked.")
    return True


def _write(member: Membership, wanted: Wanted, chosen: Mapping[str, object], now: datetime) -> None:
    allowed, place = _may_work_live(wanted, now), _place(member, wanted, chosen)
    if wanted.need:
        book_for_need(need=wanted.need, place=place, actor=member, live_allowed=allowed, now=now)
        return
    if wanted.moved is None:
        book(place=place, actor=member, live_allowed=allowed, now=now)
        return
    seen = chosen["seen"]
    move_booking(
        booking=wanted.moved,
        place=place,
        actor=member,
        seen=seen if isinstance(seen, int) else UNSEEN,
        live_allowed=allowed,
        now=now,
    )


def _place(member: Membership, wanted: Wanted, chosen: Mapping[str, object]) -> Place:
    academy = member.academy
    educator = educators(academy).filter(pk=int(str(chosen["educator"]))).first()
    if educator is None:
        raise NotHere("educator")
    moved = wanted.moved
    return Place(
        student=wanted.student,
        educator=educator,
        bench=bench(academy, int(str(chosen["bench"]))),
        kind=wanted.kind,
        starts_at=chosen["starts_at"],  # type: ignore[arg-type]  # cleaned by the form
        head=moved.head if moved else None,
        skill=wanted.skill,
        drill=_drill(wanted),
    )


def _drill(wanted: Wanted) -> Drill | None:
    source = wanted.moved or wanted.need
    return source.drill if source else None


def _need(request: MemberRequest, student: Membership, skill: Skill | None) -> Need | None:
    """The need named in the address, if it is this student's, open and about this skill."""
    asked = request.GET.get("need", "")
    if not (skill and asked.isascii() and asked.isdigit()):
        return None
    found = open_needs(request.member.academy).filter(student=student, skill=skill, pk=int(asked[:18]))
    return found.first()


def _may_work_live(wanted: Wanted, now: datetime) -> bool:
    """Asked only for live-model days, because it reads the whole record."""
    if wanted.kind.form != SessionKind.Form.LIVE_MODEL_DAY:
        return False
    return readiness_of(wanted.student, now=now).gate_state == OPEN


def _today(request: MemberRequest) -> date:
    return request.member.academy.date_of(timezone.now())
