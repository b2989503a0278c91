from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.hours import CorrectHoursForm, GroupHoursForm, HoursForm
from courses.models import ProgrammeUnit
from courses.selectors import enrolments as find
from courses.selectors.hours import entry as entry_here
from courses.services.hours import correct_hours, enter_group_hours, enter_hours
from courses.views.enrolments import crumbs

READ_OR_WRITE = ["GET", "HEAD", "POST"]


@require_http_methods(READ_OR_WRITE)
@for_staff
def hours_enter(request: MemberRequest, student_id: int) -> HttpResponse:
    now = timezone.now()
    student = find.student(request.member.academy, student_id)
    row = find.the_open_enrolment(student)
    today = {"on": request.member.academy.date_of(now)}
    form = HoursForm(
        row.version.units.all(), request.POST if request.method == "POST" else None, initial=today
    )
    if form.is_valid():
        try:
            enter_hours(enrolment=row, content=form.content(), actor=request.member, now=now)
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"The hours of {student.name} are entered.")
            return redirect("courses:enrolment", student.pk)
    context = {"form": form, "student": student, "crumbs": crumbs(student, "Enter hours")}
    return render(request, "courses/hours_form.html", context)


@require_http_methods(READ_OR_WRITE)
@for_staff
def hours_correct(request: MemberRequest, entry_id: int) -> HttpResponse:
    entry = entry_here(request.member.academy, entry_id)
    student = entry.enrolment.student
    units = ProgrammeUnit.objects.filter(version=entry.enrolment.version)
    if entry.unit_id:  # a unit of an earlier version stays with the hours spent on it
        units = units | ProgrammeUnit.objects.filter(pk=entry.unit_id)
    data = request.POST if request.method == "POST" else None
    form = CorrectHoursForm(units, data, initial=CorrectHoursForm.initial_of(entry))
    if form.is_valid():
        try:
            correct_hours(
                entry=entry,
                content=form.content(),
                reason=form.cleaned_data["reason"],
                actor=request.member,
                now=timezone.now(),
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "The entry is corrected. The one before stays readable under it.")
            return redirect("courses:enrolment", student.pk)
    context = {"form": form, "student": student, "entry": entry, "crumbs": crumbs(student, "Correct hours")}
    return render(request, "courses/hours_form.html", context)


@require_http_methods(READ_OR_WRITE)
@for_staff
def hours_group(request: MemberRequest) -> HttpResponse:
    """Query budget: constant, whatever the number of students."""
    now, academy = timezone.now(), request.member.academy
    students = find.enrolled_students(academy)
    data = request.POST if request.method == "POST" else None
    cohort = request.GET.get("cohort", "")
    there = [student for student in students if cohort and str(student.cohort_id) == cohort]
    form = GroupHoursForm(students, data, initial={"on": academy.date_of(now), "students": there})
    if form.is_valid():
        try:
            entered = enter_group_hours(
                students=form.cleaned_data["students"], content=form.content(), actor=request.member, now=now
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            count = len(entered)
            messages.success(request, f"Hours entered for {count} student{'' if count == 1 else 's'}.")
            return redirect("courses:programme-list")
    cohorts = {student.cohort_id: student.cohort for student in students if student.cohort}
    return render(request, "courses/hours_group.html", {"form": form, "cohorts": cohorts.values()})
