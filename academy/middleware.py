"""What happens around every request: whose place it is, how long a session lasts, what is never cached."""

import time
from collections.abc import Callable

from allauth.mfa.utils import is_mfa_enabled
from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.functional import SimpleLazyObject

from academy.api.errors import problem_response
from academy.errors import Denied, DomainError, NotHere
from academy.models import Membership
from academy.selectors.people import memberships_of

Answer = Callable[[HttpRequest], HttpResponse]
# Checks of certificates, keys, lists and feeds: the same for everybody, and nobody learns who asked.
COOKIELESS = ("/v/", "/keys/", "/schools/", "/status/", "/.well-known/", "/feeds/")


def current_member(request: HttpRequest) -> Membership | None:
    """The place chosen in this session, or the only one; one query."""
    if not request.user.is_authenticated:
        return None
    places = list(memberships_of(request.user))
    chosen = request.session.get("member_id")
    return next((place for place in places if place.pk == chosen), places[0] if len(places) == 1 else None)


class CookielessMiddleware:
    """Puts cookies aside before anybody reads them, where the answer must not depend on who asks."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path_info.lower().startswith(COOKIELESS):
            request.META.pop("HTTP_COOKIE", None)
        return self.get_response(request)


class SecondStepNeeded(Denied):
    def __init__(self) -> None:
        super().__init__(
            "second_step_needed",
            "Owners and educators sign in with a second step. Set up one of these to go on.",
        )


class MemberMiddleware:
    """Sets ``request.member`` and sends staff without a second factor to set one up."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.member = SimpleLazyObject(lambda: current_member(request))  # type: ignore[attr-defined]
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: object, args: object, kwargs: object
    ) -> HttpResponseBase | None:
        """Two queries for staff. Guards every view but those of the sign-in library."""
        if not settings.STAFF_MFA_REQUIRED or _needs_nobody(view):
            return None
        member: Membership | None = request.member  # type: ignore[attr-defined]
        if not member or not member.is_staff_here or is_mfa_enabled(member.user):
            return None
        needed = SecondStepNeeded()
        if hasattr(view, "cls"):  # a view of the REST framework
            return problem_response(needed)
        messages.warning(request, needed.message)
        return redirect("mfa_index")


def _needs_nobody(view: object) -> bool:
    return getattr(view, "is_public", False) or getattr(view, "__module__", "").startswith("allauth.")


def _is_stale(request: HttpRequest, now: int) -> bool:
    last: int = request.session.get("seen", 0)
    return now - last > settings.SESSION_REFRESH_S


def _only_asks(request: HttpRequest) -> bool:
    """A page left open asks how long its sign-in lasts; that is nobody using the house."""
    return request.method == "GET" and request.path_info == reverse("academy:session")


class SessionLimitMiddleware:
    """Ends a session at its absolute limit, and keeps an active one from idling out.

    An active session is written, with when and from where it was last used, once in SESSION_REFRESH_S.
    """

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if settings.SESSION_COOKIE_NAME in request.COOKIES and request.user.is_authenticated:
            now = int(time.time())
            began = request.session.setdefault("began", now)
            if now - began > settings.SESSION_ABSOLUTE_LIMIT_S:
                logout(request)
                messages.info(request, "You were signed in for a whole working day. Please sign in again.")
            elif _is_stale(request, now) and not _only_asks(request):
                request.session["seen"] = now
                UserSession.objects.create_from_request(request)
        return self.get_response(request)


class PrivateCacheMiddleware:
    """Pages are not kept by browsers or proxies unless they say otherwise; signing out empties the cache."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        was_in = settings.SESSION_COOKIE_NAME in request.COOKIES and request.user.is_authenticated
        response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "no-store")
        if was_in and not request.user.is_authenticated:
            response["Clear-Site-Data"] = '"cache"'
        return response


class DomainErrorMiddleware:
    """Turns a rule that said no, when no form caught it, into a page that says what to do."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if isinstance(exception, NotHere):
            return render(request, "404.html", {"exception": exception.message}, status=404)
        if isinstance(exception, DomainError):
            status = 403 if isinstance(exception, Denied) else 409
            return render(request, "academy/refused.html", {"message": exception.message}, status=status)
        return None
