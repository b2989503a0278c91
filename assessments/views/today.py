from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from academy.access import MemberRequest, for_staff
from assessments.selectors.needs import needs_due
from assessments.selectors.second_marks import waiting_for
from assessments.selectors.today import today_in


@require_safe
@for_staff
def today(request: MemberRequest) -> HttpResponse:
    now = timezone.now()
    second_marks = list(waiting_for(request.member))
    hidden = [waiting.practice_set_id for waiting in second_marks]
    board = today_in(request.member.academy, now=now, hidden=hidden)
    blind = {waiting.practice_set.student_id for waiting in second_marks}
    due = needs_due(request.member.academy, now=now, blind=blind)
    context = {"board": board, "second_marks": second_marks, "due": due, "now": now}
    return render(request, "assessments/today.html", context)
