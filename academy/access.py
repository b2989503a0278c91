"""Who may open a page: decorators for views. Object rules live in selectors, bound to an academy."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from allauth.decorators import rate_limit
from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from academy.models import Membership, Role, User

P = ParamSpec("P")
R = TypeVar("R")


class MemberRequest(HttpRequest):
    """A request whose sender has a place in an academy."""

    user: User  # nobody anonymous comes this far
    member: Membership


View = Callable[Concatenate[HttpRequest, P], HttpResponseBase]
MemberView = Callable[Concatenate[MemberRequest, P], HttpResponseBase]

STAFF = (Role.OWNER, Role.EDUCATOR)


def for_roles(*roles: Role) -> Callable[[MemberView[P]], View[P]]:
    """Only members with one of ``roles``; others sign in, choose an academy, or are refused.

    Times on the page are told in the academy's time zone.
    """

    def decorate(view: MemberView[P]) -> View[P]:
        @login_required
        @wraps(view)
        def guarded(request: MemberRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if not request.member:
                return redirect("academy:choose")
            if request.member.role not in roles:
                raise PermissionDenied("This page is for " + " and ".join(f"{role}s" for role in roles) + ".")
            with timezone.override(request.member.academy.time_zone):
                return view(request, *args, **kwargs)

        return guarded  # type: ignore[return-value]

    return decorate


def for_members(view: MemberView[P]) -> View[P]:
    return for_roles(*Role)(view)


def for_staff(view: MemberView[P]) -> View[P]:
    return for_roles(*STAFF)(view)


def for_owner(view: MemberView[P]) -> View[P]:
    return for_roles(Role.OWNER)(view)


def for_students(view: MemberView[P]) -> View[P]:
    return for_roles(Role.STUDENT)(view)


def for_anyone(view: View[P]) -> View[P]:
    """The same for whoever asks, signed in or not: nobody is looked up, and nothing sent changes anything.

    Its address must be one of ``academy.middleware.COOKIELESS``.
    """
    answers: View[P] = csrf_exempt(view)
    answers.is_public = True  # type: ignore[attr-defined]  # read by MemberMiddleware
    return answers


@dataclass(frozen=True, slots=True)
class SessionLeft:
    """Whole seconds until the sign-in ends, and whether using the house puts that off."""

    left_s: int
    can_stay: bool


def session_left(request: HttpRequest, now_s: int) -> SessionLeft:
    """At the least: a session may have been written, and so prolonged, later than it says."""
    if not request.user.is_authenticated:
        return SessionLeft(0, can_stay=False)
    idle = request.session.get("seen", now_s) + settings.SESSION_COOKIE_AGE - now_s
    whole = request.session.get("began", now_s) + settings.SESSION_ABSOLUTE_LIMIT_S - now_s
    return SessionLeft(max(0, min(idle, whole)), can_stay=idle < whole)


def limited(action: str, *, limit_get: bool = False) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """At most as many tries as ACCOUNT_RATE_LIMITS allows for ``action``; more are answered with 429."""
    decorate: Callable[[Callable[P, R]], Callable[P, R]] = rate_limit(action=action, limit_get=limit_get)
    return decorate
