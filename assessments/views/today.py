from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from academy.access import MemberRequest, for_staff
from assessments.selectors.today import today_in


@require_safe
@for_staff
def today(request: MemberRequest) -> HttpResponse:
    now = timezone.now()
    board = today_in(request.member.academy, now=now)
    return render(request, "assessments/today.html", {"board": board, "now": now})
