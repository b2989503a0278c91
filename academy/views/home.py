"""Where somebody lands, the choice of academy, and how long a sign-in lasts."""

import time
from dataclasses import asdict
from datetime import timedelta

from allauth.core.internal.ratelimit import handler429
from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_anyone, session_left
from academy.errors import NotHere
from academy.models import Role
from academy.selectors.people import memberships_of


@login_required
@require_safe
def home(request: MemberRequest) -> HttpResponse:
    if not request.member:
        return redirect("academy:choose")
    return redirect("assessments:stand" if request.member.role == Role.STUDENT else "assessments:today")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def choose(request: MemberRequest) -> HttpResponse:
    places = list(memberships_of(request.user))
    if request.method == "POST":
        chosen = next((place for place in places if str(place.pk) == request.POST.get("place")), None)
        if chosen is None:
            raise NotHere("place")
        request.session["member_id"] = chosen.pk
        return redirect("academy:home")
    return render(request, "academy/choose.html", {"places": places})


@require_http_methods(["GET", "HEAD", "POST"])
def session(request: HttpRequest) -> JsonResponse:
    """How long the sign-in lasts; a POST prolongs it. The token renews forms left open while signing in."""
    now = int(time.time())
    if request.method == "POST" and request.user.is_authenticated:
        request.session["seen"] = now
    return JsonResponse({**asdict(session_left(request, now)), "token": get_token(request)})


def too_many_tries(request: HttpRequest) -> HttpResponse:
    response: HttpResponse = handler429(request)
    response["Retry-After"] = "300"  # the longest of the limits' windows that a person meets
    return response


@require_safe
@for_anyone
def security_txt(request: HttpRequest) -> HttpResponse:
    """Whom to tell of a weakness, as RFC 9116 has it written down."""
    expires = (timezone.now() + timedelta(days=180)).replace(hour=0, minute=0, second=0, microsecond=0)
    lines = (
        f"Contact: {settings.SECURITY_CONTACT}",
        f"Expires: {expires:%Y-%m-%dT%H:%M:%SZ}",
        f"Canonical: {settings.SITE_URL}{request.path}",
        "Preferred-Languages: en",
    )
    text = "".join(f"{line}\n" for line in lines)
    return HttpResponse(text, content_type="text/plain; charset=utf-8")
