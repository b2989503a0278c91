from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from academy.access import MemberRequest, for_staff, for_students
from academy.models import Membership
from assessments.selectors.second_marks import blind_sets, waiting_for
from assessments.selectors.skill_changes import changes_of
from assessments.selectors.students import student as student_here
from assessments.views.students import whose


@require_safe
@for_staff
def student_changes(request: MemberRequest, student_id: int) -> HttpResponse:
    """Levels rest on marks, so who marks one of the student's sets blind waits for them here too."""
    found = student_here(request.member.academy, student_id)
    if found.pk in blind_sets(request.member).values():
        context = {**whose(request.member, found), "second_marks": waiting_for(request.member, found)}
        return render(request, "assessments/student_blind.html", context)
    return _changes(request, found)


@require_safe
@for_students
def stand_changes(request: MemberRequest) -> HttpResponse:
    return _changes(request, request.member)


def _changes(request: MemberRequest, student: Membership) -> HttpResponse:
    given = request.GET.get("since", "")
    since = int(given) if given.isascii() and given.isdigit() else None
    context = {
        **whose(request.member, student, "What changed"),
        "changes": changes_of(student, since, now=timezone.now()),
    }
    return render(request, "assessments/skill_changes.html", context)
