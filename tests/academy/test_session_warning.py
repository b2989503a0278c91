"""Before the sign-in ends a real browser says so, one press stays, and nothing typed is lost."""

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse
from playwright.sync_api import Page, expect

from tests.academy.test_pages import sign_in_by_password
from tests.factories.academy import PASSWORD, Cast, make_cast
from tests.services.browser import PHONE, set_width

pytestmark = pytest.mark.django_db(transaction=True)
LIFE_S = 60
NOTE = "Half a sentence that"


@pytest.fixture
def cast(transactional_db: None) -> Cast:
    return make_cast()


@pytest.fixture
def page_with_words(page: Page, cast: Cast, live_server, settings) -> Page:
    """A form half filled in, a few seconds before the warning."""
    sign_in_by_password(page, live_server.url, cast)
    settings.SESSION_COOKIE_AGE, settings.SESSION_WARN_S = LIFE_S, LIFE_S - 8
    page.goto(live_server.url + reverse("academy:invite"))
    page.get_by_label("Name").fill(NOTE)
    return page


def test_it_warns_and_one_press_stays_signed_in(page_with_words: Page, axe, settings, console_errors):
    page = page_with_words
    warning = page.get_by_role("dialog", name="Are you still here?")
    expect(warning).to_be_hidden()
    expect(warning).to_be_visible(timeout=20_000)
    expect(warning).to_contain_text("You will be signed out in less than a minute")
    for width in (320, PHONE):
        set_width(page, width)
        axe(page)
    settings.SESSION_COOKIE_AGE = 4 * 3600
    stay = warning.get_by_role("button", name="Stay signed in")
    expect(stay).to_be_focused()
    page.keyboard.press("Enter")
    expect(warning).to_be_hidden()
    expect(page.get_by_label("Name")).to_have_value(NOTE)
    assert not console_errors


def test_once_it_has_ended_what_was_typed_is_still_there_and_can_be_sent(
    page_with_words: Page, cast: Cast, settings, console_errors
):
    page = page_with_words
    Session.objects.all().delete()
    warning = page.get_by_role("dialog", name="Are you still here?")
    expect(warning).to_contain_text("You are signed out.", timeout=30_000)
    settings.SESSION_COOKIE_AGE = 4 * 3600
    with page.context.expect_page() as opened:
        warning.get_by_role("link", name="Sign in again in a new tab").click()
    again = opened.value
    again.get_by_label("Email").fill(cast.owner.user.email)
    again.get_by_label("Password").fill(PASSWORD)
    again.get_by_role("button", name="Sign in", exact=True).click()
    again.wait_for_url("**/today/")
    again.close()
    page.bring_to_front()
    expect(warning).to_be_hidden(timeout=20_000)
    expect(page.get_by_label("Name")).to_have_value(NOTE)
    page.get_by_label("E-mail", exact=True).fill("mira@people.example")
    page.get_by_role("button", name="Send").click()  # with a token that was renewed meanwhile
    expect(page.get_by_text("mira@people.example").first).to_be_visible()
    assert not console_errors
