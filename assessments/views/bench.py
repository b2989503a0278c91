from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError
from academy.models import Academy
from assessments.api.document import set_document
from assessments.forms.bench import OpenSetForm, carried_over
from assessments.models import PracticeSet
from assessments.scoring.conditions import RoomGuide, check_opened, warnings
from assessments.scoring.evidence import ScoringInputError
from assessments.selectors import sets
from assessments.selectors.second_marks import set_to_read
from assessments.services.sets import open_set
from courses.selectors.briefs import briefs
from courses.selectors.heads import heads

READ_OR_WRITE = ["GET", "HEAD", "POST"]


@require_http_methods(READ_OR_WRITE)
@for_staff
def new_set(request: MemberRequest) -> HttpResponse:
    """Pick student, brief and head; the rest is carried over from the last set of the day."""
    now, academy = timezone.now(), request.member.academy
    last = sets.last_setup(academy, since=academy.day_began(now))
    in_use = sets.heads_in_use(academy)
    students = list(sets.students_for_bench(academy))
    posted = request.POST if request.method == "POST" else None
    free = [head for head in heads(academy) if _is_free(in_use.get(head.pk), request.POST.get("uid"))]
    chosen = {name: request.GET.get(name) for name in ("student", "brief", "head")}
    initial = {**carried_over(last, academy.adhesive_days), **{k: v for k, v in chosen.items() if v}}
    form = OpenSetForm(posted, initial=initial).offer(students, list(briefs(academy)), free)
    found: tuple[str, ...] = ()
    if form.is_valid():
        found = _warnings(form, academy, now)
        if form.is_valid() and (not found or form.cleaned_data["confirm_warnings"]):
            practice_set = _open(request, form, now)
            if practice_set:
                return redirect("assessments:bench", uid=practice_set.uid)
    context = {
        "form": form,
        "carried": last is not None,
        "warnings": found,
        "in_use": list(in_use.values()),
        "students": students,
    }
    return render(request, "assessments/bench_new.html", context, status=422 if form.is_bound else 200)


def _is_free(carried: PracticeSet | None, form_uid: str | None) -> bool:
    """A form sent twice finds the head taken by the set that it opened itself."""
    return carried is None or str(carried.uid) == form_uid


def _warnings(form: OpenSetForm, academy: Academy, now: datetime) -> tuple[str, ...]:
    """What may be confirmed; what may not, such as a bottle opened tomorrow, goes on the form."""
    conditions, today = form.conditions(), academy.date_of(now)
    try:
        check_opened(conditions, today=today)
    except ScoringInputError as problem:
        form.add_error(problem.code, problem.message)
    guide = RoomGuide((academy.room_c_low, academy.room_c_high), (academy.room_rh_low, academy.room_rh_high))
    return warnings(conditions, guide, today=today)


def _open(request: MemberRequest, form: OpenSetForm, now: datetime) -> PracticeSet | None:
    try:
        return open_set(
            actor=request.member,
            setup=form.setup(),
            uid=form.cleaned_data["uid"],
            now=now,
        )
    except DomainError as problem:
        field = str(problem.details.get("field", ""))
        form.add_error(field if field in form.fields else None, problem.message)
        return None


PAGE_OF_STATE = {"finished": "assessments:bench-inspect", "inspected": "assessments:bench-marks"}


@require_safe
@for_staff
def clock(request: MemberRequest, uid: UUID) -> HttpResponse:
    """The clock of a set that is not finished; otherwise on to the page it is ready for."""
    practice_set = set_to_read(request.member, uid)
    if practice_set.state in PAGE_OF_STATE:
        return redirect(PAGE_OF_STATE[practice_set.state], uid=uid)
    if practice_set.state in {"graded", "abandoned"}:
        return redirect("assessments:set", uid=uid)
    return render(request, "assessments/bench_clock.html", _page(practice_set))


@require_safe
@for_staff
def inspect(request: MemberRequest, uid: UUID) -> HttpResponse:
    practice_set = set_to_read(request.member, uid)
    if practice_set.state != "finished":
        messages.info(request, "This set is not open for inspection.")
        return redirect("assessments:bench", uid=uid)
    return render(request, "assessments/bench_inspect.html", _page(practice_set))


def _page(practice_set: PracticeSet) -> dict[str, Any]:
    return {
        "practice_set": practice_set,
        "document": set_document(practice_set, now=timezone.now()),
        "urls": bench_urls(practice_set),
    }


def bench_urls(practice_set: PracticeSet) -> dict[str, str]:
    """Where the pages and scripts of the bench turn for this set."""
    names = {
        "set": "api:set",
        "events": "api:set-events",
        "draft": "api:set-draft",
        "clock": "assessments:bench",
        "inspect": "assessments:bench-inspect",
        "marks": "assessments:bench-marks",
    }
    return {page: reverse(name, args=[practice_set.uid]) for page, name in names.items()}
