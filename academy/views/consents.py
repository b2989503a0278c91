from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from academy.access import MemberRequest, for_students
from academy.selectors.consents import consents_of
from academy.services.consents import answer_consent


@require_http_methods(["GET", "HEAD", "POST"])
@for_students
def consents(request: MemberRequest) -> HttpResponse:
    """Her own, and only by herself: every purpose with its words and the answer that counts."""
    if request.method == "POST":
        answer = answer_consent(
            member=request.member,
            purpose=request.POST.get("purpose", ""),
            given=request.POST.get("answer") == "yes",
            actor=request.member,
            now=timezone.now(),
        )
        if answer:
            messages.success(
                request,
                f"{answer.get_purpose_display().capitalize()}: {'given' if answer.given else 'withdrawn'}.",
            )
        return redirect("academy:consents")
    return render(request, "academy/consents.html", {"consents": consents_of(request.member).values()})
