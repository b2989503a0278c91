from collections.abc import Iterator

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from academy.access import MemberRequest, for_students
from academy.errors import DomainError
from academy.forms import show_refusal
from courses.forms.free_times import ExceptionForm
from courses.selectors.free_times import exceptions_to_come, own_exception, usual_week
from courses.services.free_times import drop_exception, set_exception, set_usual_week

READ_OR_WRITE = ["GET", "HEAD", "POST"]
WEEKDAYS, HOURS = ({str(n) for n in range(count)} for count in (7, 24))


@require_http_methods(READ_OR_WRITE)
@for_students
def free_times(request: MemberRequest) -> HttpResponse:
    """The usual week as hours to tap. Query budget: three."""
    now = timezone.now()
    if request.method == "POST":
        set_usual_week(student=request.member, hours=_chosen(request.POST), now=now)
        messages.success(request, "Saved. Times are proposed only within these hours.")
        return redirect("courses:free-times")
    return render(request, "courses/free_times.html", _shown(request, ExceptionForm()))


@require_POST
@for_students
def free_exception(request: MemberRequest) -> HttpResponse:
    form = ExceptionForm(request.POST)
    if form.is_valid():
        try:
            set_exception(student=request.member, now=timezone.now(), **form.cleaned_data)
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, "Saved.")
            return redirect("courses:free-times")
    return render(request, "courses/free_times.html", _shown(request, form))


@require_POST
@for_students
def free_exception_drop(request: MemberRequest, exception_id: int) -> HttpResponse:
    exception = own_exception(request.member, exception_id)
    drop_exception(exception=exception, actor=request.member, now=timezone.now())
    messages.success(request, "Your usual week holds on that day again.")
    return redirect("courses:free-times")


def _shown(request: MemberRequest, form: ExceptionForm) -> dict[str, object]:
    return {
        "days": usual_week(request.member),
        "exceptions": exceptions_to_come(request.member, timezone.now()),
        "form": form,
    }


def _chosen(given: QueryDict) -> Iterator[tuple[int, int]]:
    """``free`` holds "weekday-hour"; what is neither a day nor an hour is left out."""
    for value in given.getlist("free"):
        weekday, _, hour = value.partition("-")
        if weekday in WEEKDAYS and hour in HOURS:
            yield int(weekday), int(hour)
