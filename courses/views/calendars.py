from hashlib import sha256

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
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
    answer = HttpResponse(content, content_type=calendar.CONTENT_TYPE)
    answer["ETag"], answer["Referrer-Policy"] = tag, "no-referrer"
    answer["Cache-Control"] = "private, max-age=900"
    shown: HttpResponse = get_conditional_response(request, etag=tag, response=answer) or answer
    return shown


@require_safe
@for_members
def my_calendar(request: MemberRequest) -> HttpResponse:
    """One query besides those of every page."""
    return _show(request)


@require_POST
@for_members
def calendar_renew(request: MemberRequest) -> HttpResponse:
    """Shows the new address in its answer, this once: kept for a page to come it would lie in the session."""
    return _show(request, renew_feed(member=request.member, now=timezone.now()))


@require_POST
@for_members
def calendar_close(request: MemberRequest) -> HttpResponse:
    close_feed(member=request.member, now=timezone.now())
    messages.success(request, "The address no longer works.")
    return redirect("courses:my-calendar")


def _show(request: MemberRequest, token: str = "") -> HttpResponse:
    address = settings.SITE_URL + reverse("courses:calendar-feed", args=[token]) if token else ""
    context = {
        "feed": open_feed(request.member),
        "address": address,
        "subscribe": address.replace("https://", "webcal://").replace("http://", "webcal://"),
    }
    return render(request, "courses/my_calendar.html", context)
