"""A passkey is set up and signs in, in a real browser with a virtual authenticator.

That is section 11 of W3C WebAuthn level 2. The browser refuses WebAuthn for bare IP
addresses, so the site is opened as localhost.
"""

import pytest
from allauth.mfa.models import Authenticator
from playwright.sync_api import Page, expect

from tests.factories.academy import PASSWORD, make_cast

pytestmark = pytest.mark.django_db(transaction=True)
DEVICE = {
    "protocol": "ctap2",
    "transport": "internal",
    "hasResidentKey": True,
    "hasUserVerification": True,
    "isUserVerified": True,
    "automaticPresenceSimulation": True,
}


@pytest.fixture
def authenticator(page: Page):
    """A device that knows its owner. ``verified(False)`` makes it fail to recognise her."""
    browser = page.context.new_cdp_session(page)
    browser.send("WebAuthn.enable")
    device_id = browser.send("WebAuthn.addVirtualAuthenticator", {"options": DEVICE})["authenticatorId"]

    def verified(is_verified: bool) -> None:
        browser.send(
            "WebAuthn.setUserVerified", {"authenticatorId": device_id, "isUserVerified": is_verified}
        )

    return verified


def sign_in_by_password(page: Page, url: str, email: str) -> None:
    page.goto(f"{url}/account/login/")
    page.get_by_label("Email").fill(email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()


def add_passkey(page: Page, url: str) -> None:
    page.goto(f"{url}/account/2fa/webauthn/add/")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Confirm").click()
    page.get_by_label("Name").fill("Bench tablet")
    page.get_by_label("Passwordless").check()
    page.get_by_role("button", name="Add").click()
    page.wait_for_url("**/recovery-codes/**")


def test_a_passkey_is_set_up_and_signs_in_alone(
    page: Page, live_server, authenticator, console_errors, settings
):
    settings.STAFF_MFA_REQUIRED = True
    owner = make_cast().owner
    sign_in_by_password(page, live_server.url, owner.user.email)
    page.wait_for_url("**/account/2fa/")
    add_passkey(page, live_server.url)
    passkey = Authenticator.objects.get(user=owner.user, type="webauthn").wrap()
    assert passkey.is_passwordless

    page.context.clear_cookies()
    page.goto(f"{live_server.url}/account/login/?next=/people/")
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("People")
    assert console_errors == []


def test_a_device_that_does_not_know_its_owner_does_not_sign_in(
    page: Page, live_server, authenticator, settings
):
    settings.STAFF_MFA_REQUIRED = True
    owner = make_cast().owner
    sign_in_by_password(page, live_server.url, owner.user.email)
    add_passkey(page, live_server.url)
    page.context.clear_cookies()
    authenticator(False)
    page.goto(f"{live_server.url}/account/login/")
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("status")).to_contain_text("The passkey was not used", timeout=20_000)
    page.goto(f"{live_server.url}/choose/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")
