from collections.abc import Mapping, Sequence
from datetime import date, datetime

from django.core.paginator import Paginator
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from academy.access import MemberRequest, for_staff, for_students
from academy.models import Membership
from academy.parts import kept_part
from academy.selectors.people import cohorts
from assessments.selectors.competence import competence_of
from assessments.selectors.corrections import correction_in
from assessments.selectors.faults import fault_map
from assessments.selectors.grades import gates_of, local_day, newest_grade_of
from assessments.selectors.grades import next_practice as practice_after
from assessments.selectors.needs import needs_of
from assessments.selectors.records import sets_of
from assessments.selectors.second_marks import blind_sets, waiting_for
from assessments.selectors.skill import TARGET_LEVEL, stand_of
from assessments.selectors.stand_facts import stand_facts
from assessments.selectors.students import student as student_here
from assessments.selectors.students import student_rows, students_by_need
from assessments.selectors.time_forecasts import time_forecasts
from courses.models import Fault

STUDENTS_A_PAGE = 25
SETS_A_PAGE = 25


@require_safe
@for_staff
def student_list(request: MemberRequest) -> HttpResponse:
    academy = request.member.academy
    chosen, search = _cohort_id(request.GET), request.GET.get("q", "").strip()
    blind = set(blind_sets(request.member).values())
    found = students_by_need(academy, cohort_id=chosen, search=search, blind=blind)
    page = Paginator(found, STUDENTS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": student_rows(academy, list(page), now=timezone.now()),
        "cohorts": cohorts(academy),
        "chosen": chosen,
        "search": search,
        "query": _without_page(request.GET),
        "target": TARGET_LEVEL,
        "blind_students": blind,
    }
    return render(request, "assessments/student_list.html", context)


@require_safe
@for_staff
def student(request: MemberRequest, student_id: int) -> HttpResponse:
    """All of this page rests on marks, so who marks one of the student's sets blind waits for it."""
    found = student_here(request.member.academy, student_id)
    if found.pk in blind_sets(request.member).values():
        context = {**whose(request.member, found), "second_marks": waiting_for(request.member, found)}
        return render(request, "assessments/student_blind.html", context)
    return _stand(request, found)


@require_safe
@for_students
def stand(request: MemberRequest) -> HttpResponse:
    return _stand(request, request.member)


def whose(reader: Membership, student: Membership, page: str = "") -> dict[str, object]:
    """Who is shown to whom; ``page`` names the page below the student's own, for staff's way back."""
    if reader.pk == student.pk:
        return {"student": student, "is_own": True, "sets_url": reverse("assessments:my-sets")}
    crumbs = [{"label": "Students", "url": reverse("assessments:student-list")}, {"label": student.name}]
    if page:
        crumbs[-1]["url"] = reverse("assessments:student", args=[student.pk])
        crumbs.append({"label": page})
    sets_url = reverse("assessments:student-sets", args=[student.pk])
    return {"student": student, "is_own": False, "sets_url": sets_url, "crumbs": crumbs}


def _newest(student: Membership, today: date, known: Sequence[Fault] = ()) -> dict[str, object]:
    """What the newest marks leave behind: the faults on the eye and the one thing to practise."""
    grade = newest_grade_of(student)
    if grade is None:
        return {"grade": None, "faults": None, "next": None, "gates": ()}
    faults = fault_map(grade.inspection, grade.practice_set.brief, known)
    return {
        "grade": grade,
        "faults": faults,
        "gates": gates_of(grade),
        "next": practice_after(grade, faults, today=today),
    }


def _stand(request: MemberRequest, student: Membership) -> HttpResponse:
    """Staff and the student herself read the same page, kept for as long as it tells the same."""
    now = timezone.now()
    context = whose(request.member, student)
    hour, today = now.replace(minute=0, second=0, microsecond=0), local_day(student.academy, now)
    facts = (context["is_own"], hour, today, stand_facts(student))
    body = kept_part("assessments/_stand.html", facts, lambda: context | _told(student, context, hour, today))
    return render(request, "assessments/stand.html", context | {"body": body})


def _told(
    student: Membership, context: Mapping[str, object], hour: datetime, today: date
) -> dict[str, object]:
    """What the page says: figures fade from hour to hour, days are counted to today."""
    found = stand_of(student, now=hour)
    changes = "assessments:stand-changes" if context["is_own"] else "assessments:student-changes"
    return {
        "changes_url": reverse(changes, args=[] if context["is_own"] else [student.pk]),
        "stand": found,
        "forecasts": time_forecasts(student, found.version),
        "competence": competence_of(student, found.marks, correction_in(found.version), found.faults),
        "target": TARGET_LEVEL,
        **_newest(student, today, found.faults),
    }


@require_safe
@for_students
def next_practice(request: MemberRequest) -> HttpResponse:
    now = timezone.now()
    today = local_day(request.member.academy, now)
    context = {**_newest(request.member, today), "needs": needs_of(request.member, now=now)}
    return render(request, "assessments/next_practice.html", context)


@require_safe
@for_staff
def student_sets(request: MemberRequest, student_id: int) -> HttpResponse:
    return _sets(request, student_here(request.member.academy, student_id))


@require_safe
@for_students
def my_sets(request: MemberRequest) -> HttpResponse:
    return _sets(request, request.member)


def _sets(request: MemberRequest, student: Membership) -> HttpResponse:
    page = Paginator(sets_of(student), SETS_A_PAGE).get_page(request.GET.get("page"))
    blind = blind_sets(request.member) if request.member.is_staff_here else {}
    context = {**whose(request.member, student, "Sets"), "page": page, "blind": blind}
    return render(request, "assessments/set_list.html", context)


def _cohort_id(query: QueryDict) -> int | None:
    given = query.get("cohort", "")
    return int(given) if given.isascii() and given.isdigit() else None


def _without_page(query: QueryDict) -> str:
    rest = query.copy()
    rest.pop("page", None)
    return rest.urlencode()
