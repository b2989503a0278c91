"""Offering a place by e-mail, and taking it up."""

from allauth.account.utils import perform_login
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from academy.access import MemberRequest, for_owner, limited
from academy.errors import DomainError
from academy.forms import AcceptForm, InviteForm, show_refusal
from academy.models import Invitation, Membership, User
from academy.selectors.invitations import InvitationNotKnown, invitation_by_token, open_invitation
from academy.selectors.people import person_at
from academy.services.invitations import (
    accept_invitation,
    invite_person,
    renew_invitation,
    withdraw_invitation,
)


@for_owner
@require_http_methods(["GET", "HEAD", "POST"])
@limited("invite")
def invite(request: MemberRequest) -> HttpResponse:
    form = InviteForm(request.member.academy, request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            invitation = invite_person(actor=request.member, now=timezone.now(), **form.cleaned_data)
        except DomainError as error:
            show_refusal(form, error)
        else:
            messages.success(request, f"The invitation is on its way to {invitation.email}.")
            return redirect("academy:people")
    return render(request, "academy/invite.html", {"form": form})


@for_owner
@require_http_methods(["GET", "HEAD", "POST"])
def invitation_withdraw(request: MemberRequest, invitation_id: int) -> HttpResponse:
    invitation = open_invitation(request.member.academy, invitation_id)
    if request.method == "POST":
        withdraw_invitation(actor=request.member, invitation=invitation, now=timezone.now())
        messages.success(
            request, f"The invitation to {invitation.email} is withdrawn. Its link no longer works."
        )
        return redirect("academy:people")
    return render(request, "academy/invitation_withdraw.html", {"invitation": invitation})


@for_owner
@require_POST
@limited("invite")
def invitation_renew(request: MemberRequest, invitation_id: int) -> HttpResponse:
    invitation = open_invitation(request.member.academy, invitation_id)
    renew_invitation(actor=request.member, invitation=invitation, now=timezone.now())
    messages.success(request, f"A new link is on its way to {invitation.email}. The old one no longer works.")
    return redirect("academy:people")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@limited("accept_invitation", limit_get=True)
def invitation_accept(request: HttpRequest, token: str) -> HttpResponse:
    """GET only shows what is offered: mail scanners follow links."""
    try:
        invitation = invitation_by_token(token, now=timezone.now())
    except DomainError as error:
        status = 404 if isinstance(error, InvitationNotKnown) else 410
        return render(request, "academy/invitation_closed.html", {"message": error.message}, status=status)
    if isinstance(request.user, User):
        return _accept_as_known(request, request.user, invitation)
    if person_at(invitation.email):
        return render(request, "academy/invitation_sign_in.html", {"invitation": invitation})
    return _accept_as_new(request, invitation)


def _accept_as_known(request: HttpRequest, user: User, invitation: Invitation) -> HttpResponse:
    is_theirs = person_at(invitation.email) == user
    if request.method == "POST" and is_theirs:
        place = accept_invitation(invitation=invitation, user=user, now=timezone.now())
        request.session["member_id"] = place.pk
        messages.success(request, f"You now have a place in {place.academy.name}.")
        return redirect("academy:home")
    return render(request, "academy/invitation_join.html", {"invitation": invitation, "is_theirs": is_theirs})


def _accept_as_new(request: HttpRequest, invitation: Invitation) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    form = AcceptForm(invitation.email, data, initial={"name": invitation.name})
    if form.is_valid():
        try:
            place = accept_invitation(
                invitation=invitation,
                user=None,
                name=form.cleaned_data["name"],
                password=form.chosen_password,
                now=timezone.now(),
            )
        except DomainError as error:
            show_refusal(form, error)
        else:
            return _sign_in(request, place)
    return render(request, "academy/invitation_accept.html", {"invitation": invitation, "form": form})


def _sign_in(request: HttpRequest, place: Membership) -> HttpResponse:
    response: HttpResponse = perform_login(request, place.user, redirect_url=reverse("academy:home"))
    request.session["member_id"] = place.pk
    return response
