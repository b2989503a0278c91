from hashlib import sha256

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from academy import calendar
from academy.access import MemberRequest, for_anyone, for_members
from courses.selectors.feeds import feed_by_token, feed_entries, open_feed
from courses.services.feeds import close_feed, renew_feed

NAME = "Booked times"


@require_safe
@for_anyone
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """Two queries. No session and no name; an unchanged calendar answers 304."""
    member = feed_by_token(token).member
    source = settings.SITE_URL + request.path
    content = calendar.feed(NAME, feed_entries(member, timezone.now()), source=source)
    tag = f'"{sha256(content).hexdigest()[:32]}"'
    if request.headers.get("If-None-Match") == tag:
        answer: HttpResponse = HttpResponseNotModified()
    else:
        answer = HttpResponse(content, content_type=calendar.CONTENT_TYPE)
    answer["ETag"], answer["Referrer-Policy"] = tag, "no-referrer"
    answer["Cache-Control"] = "private, max-age=900"
    return answer


@require_safe
@for_members
def my_calendar(request: MemberRequest) -> HttpResponse:
    """Two queries. The secret address is shown once, right after it was made."""
    token = request.session.pop("calendar_token", "")
    address = settings.SITE_URL + reverse("courses:calendar-feed", args=[token]) if token else ""
    context = {
        "feed": open_feed(request.member),
        "address": address,
        "subscribe": address.replace("https://", "webcal://").replace("http://", "webcal://"),
    }
    return render(request, "courses/my_calendar.html", context)


@require_POST
@for_members
def calendar_renew(request: MemberRequest) -> HttpResponse:
    request.session["calendar_token"] = renew_feed(member=request.member, now=timezone.now())
    return redirect("courses:my-calendar")


@require_POST
@for_members
def calendar_close(request: MemberRequest) -> HttpResponse:
    close_feed(member=request.member, now=timezone.now())
    return redirect("courses:my-calendar")
