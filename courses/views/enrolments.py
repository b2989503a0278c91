from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_owner, for_staff, for_students
from academy.errors import DomainError
from academy.forms import show_refusal
from academy.models import Membership
from courses.forms.enrolments import EnrolForm, ReasonForm, SignOffForm
from courses.models import Enrolment
from courses.selectors import enrolments as find
from courses.selectors.hours import hours_total
from courses.selectors.programme_record import hours_progress, programme_record
from courses.selectors.programmes import not_enrolled, offered_versions
from courses.services.enrolments import end_enrolment, enrol_students, move_enrolment
from courses.services.sign_offs import sign_off

READ_OR_WRITE = ["GET", "HEAD", "POST"]


@require_safe
@for_staff
def enrolment(request: MemberRequest, student_id: int) -> HttpResponse:
    student = find.student(request.member.academy, student_id)
    context = {**_record_of(student, request), "crumbs": crumbs(student)}
    shown = context["enrolment"]
    if isinstance(shown, Enrolment) and shown.ended_at is None:
        context["newer"] = find.newer_versions(shown)
    return render(request, "courses/enrolment.html", context)


@require_safe
@for_students
def my_programme(request: MemberRequest) -> HttpResponse:
    return render(request, "courses/enrolment.html", {**_record_of(request.member, request), "is_own": True})


@require_http_methods(READ_OR_WRITE)
@for_owner
def enrol(request: MemberRequest) -> HttpResponse:
    """Query budget: constant, whatever the number of students."""
    academy = request.member.academy
    versions, students = offered_versions(academy), not_enrolled(academy)
    chosen = {"version": request.GET.get("version"), "students": request.GET.getlist("student")}
    form = EnrolForm(versions, students, request.POST if request.method == "POST" else None, initial=chosen)
    if form.is_valid():
        try:
            enrolled = enrol_students(**form.cleaned_data, actor=request.member, now=timezone.now())
        except DomainError as error:
            show_refusal(form, error)
        else:
            count = len(enrolled)
            messages.success(request, f"{count} student{'' if count == 1 else 's'} enrolled.")
            return redirect("courses:programme-version", form.cleaned_data["version"].pk)
    return render(request, "courses/enrolment_new.html", {"form": form})


@require_http_methods(READ_OR_WRITE)
@for_owner
def move(request: MemberRequest, student_id: int, version_id: int) -> HttpResponse:
    """What changes is shown first; it takes a reason and a second press to change it."""
    student = find.student(request.member.academy, student_id)
    row = find.the_open_enrolment(student)
    version = find.newer_version(row, version_id)
    form = ReasonForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            move_enrolment(
                enrolment=row, version=version, actor=request.member, now=timezone.now(), **form.cleaned_data
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"{student.name} is now on version {version.number}.")
            return redirect("courses:enrolment", student.pk)
    total = hours_total(row)
    context = {
        "form": form,
        "student": student,
        "enrolment": row,
        "version": version,
        "differences": find.differences(row.version, version),
        "dropped": find.dropped(row, version),
        "missing": [state for state in find.unit_states(row, version) if not state.is_passed],
        "progress": hours_progress(total, version),
        "crumbs": crumbs(student, "Move to a newer version"),
    }
    return render(request, "courses/enrolment_move.html", context)


@require_http_methods(READ_OR_WRITE)
@for_owner
def end(request: MemberRequest, student_id: int) -> HttpResponse:
    student = find.student(request.member.academy, student_id)
    row = find.the_open_enrolment(student)
    form = ReasonForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            end_enrolment(enrolment=row, actor=request.member, now=timezone.now(), **form.cleaned_data)
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"The enrolment of {student.name} has ended. The record is kept.")
            return redirect("courses:enrolment", student.pk)
    context = {"form": form, "student": student, "enrolment": row, "crumbs": crumbs(student, "End")}
    return render(request, "courses/enrolment_end.html", context)


@require_http_methods(READ_OR_WRITE)
@for_staff
def units(request: MemberRequest, student_id: int) -> HttpResponse:
    student = find.student(request.member.academy, student_id)
    row = find.the_open_enrolment(student)
    chosen = {"units": request.GET.getlist("unit")}
    states = find.unit_states(row)
    form = SignOffForm(states, request.POST if request.method == "POST" else None, initial=chosen)
    if form.is_valid():
        try:
            signed = sign_off(
                enrolment=row,
                units=form.chosen_units(),
                passed=form.cleaned_data["passed"],
                note=form.cleaned_data["note"],
                actor=request.member,
                now=timezone.now(),
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            count = len(signed)
            messages.success(request, f"{count} unit{'' if count == 1 else 's'} of {student.name} signed.")
            return redirect("courses:enrolment", student.pk)
    context = {"form": form, "student": student, "crumbs": crumbs(student, "Sign off units")}
    return render(request, "courses/enrolment_units.html", context)


def crumbs(student: Membership, page: str = "") -> list[dict[str, str]]:
    """From the list of students to this page about one of them."""
    way = [
        {"label": "Students", "url": reverse("assessments:student-list")},
        {"label": student.name, "url": reverse("assessments:student", args=[student.pk])},
        {"label": "Programme and hours"},
    ]
    if page:
        way[-1]["url"] = reverse("courses:enrolment", args=[student.pk])
        way.append({"label": page})
    return way


def _record_of(student: Membership, request: MemberRequest) -> dict[str, object]:
    """The open enrolment, or the one asked for, or the last; with its record."""
    found = list(find.enrolments_of(student))
    asked = request.GET.get("enrolment", "")
    shown = next((each for each in found if str(each.pk) == asked), None) or find.current_of(found)
    return {
        "student": student,
        "enrolment": shown,
        "record": programme_record(shown) if shown else None,
        "others": [each for each in found if each != shown],
        "is_enrolled": any(each.ended_at is None for each in found),
    }
