"""Our pages in a real browser: nothing axe objects to, nothing wider than the window, no errors."""

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page

from academy.models import Role
from academy.selectors.invitations import invitation_token
from academy.services.invitations import invite_person
from tests.factories.academy import PASSWORD, Cast, make_cast
from tests.services.browser import DESKTOP, PHONE, set_width, sideways_overflow

pytestmark = pytest.mark.django_db(transaction=True)
REFLOW = 320  # WCAG 2.2, 1.4.10


def sign_in_by_password(page: Page, url: str, cast: Cast) -> None:
    page.goto(f"{url}/account/login/")
    page.get_by_label("Email").fill(cast.owner.user.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url("**/today/")


def look_at(page: Page, address: str, axe) -> None:
    page.goto(address)
    for width in (REFLOW, PHONE, DESKTOP):
        set_width(page, width)
        assert sideways_overflow(page) == 0, f"{address} at {width} px"
    axe(page)


def test_the_owners_pages(page: Page, live_server, axe, console_errors):
    cast = make_cast()
    invitation = invite_person(
        actor=cast.owner,
        name="Mira Tamsin",
        email="mira@people.example",
        role=Role.STUDENT,
        cohort=cast.cohort,
        now=timezone.now(),
    )
    sign_in_by_password(page, live_server.url, cast)
    own = ["people", "invite", "settings", "choose", "cohort-new"]
    addresses = [reverse(f"academy:{name}") for name in own]
    addresses += [reverse(f"academy:{name}", args=[cast.ada.pk]) for name in ("person", "person-leave")]
    addresses.append(reverse("academy:invitation-withdraw", args=[invitation.pk]))
    addresses += ["/account/2fa/", "/account/email/", "/account/sessions/", "/account/password/change/"]
    for address in addresses:
        look_at(page, live_server.url + address, axe)
    assert console_errors == []


def test_the_pages_before_signing_in(page: Page, live_server, axe):
    cast = make_cast()
    invitation = invite_person(
        actor=cast.owner,
        name="Mira Tamsin",
        email="mira@people.example",
        role=Role.STUDENT,
        cohort=None,
        now=timezone.now(),
    )
    offer = reverse("academy:invitation-accept", args=[invitation_token(invitation)])
    known = ["/account/login/", "/account/login/code/", "/account/signup/", "/account/password/reset/"]
    for address in (*known, offer, "/invitation/garbled/"):
        look_at(page, live_server.url + address, axe)
