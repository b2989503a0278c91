"""A certificate from its issue to the check by a stranger: in a browser, without a script, on a phone."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect

from assessments.credentials.code import grouped
from assessments.models import Certificate
from tests.factories.academy import Cast
from tests.factories.certificates import certified_ada
from tests.journeys.tablet import Tablet
from tests.services.browser import DESKTOP, PHONE, TABLET, set_width, sideways_overflow

CHECK = reverse("assessments:check")


@pytest.fixture
def row(transactional_db: None, cast: Cast) -> Certificate:
    return certified_ada(cast)


@pytest.fixture
def stranger(browser: Browser) -> Iterator[Page]:
    """Somebody without an account whose browser runs no scripts."""
    context = browser.new_context(java_script_enabled=False, viewport={"width": PHONE, "height": 800})
    yield context.new_page()
    context.close()


def test_a_stranger_checks_a_code_without_any_script(live_server, stranger: Page, row: Certificate):
    stranger.goto(live_server.url + CHECK)
    stranger.get_by_label("Code on the certificate").fill(grouped(row.code).lower())
    stranger.get_by_role("button", name="Check the code").click()
    expect(stranger.get_by_role("heading", level=1)).to_have_text("valid")
    expect(stranger.get_by_text("Ada Marsh")).to_be_visible()
    assert stranger.context.cookies() == []


def test_a_stranger_hands_in_the_file(live_server, stranger: Page, row: Certificate, tmp_path: Path):
    file = tmp_path / "certificate.jwt"
    for content, word in ((row.token, "valid"), (row.token[:-9] + "AAAAAAAAA", "not genuine")):
        file.write_text(content)
        stranger.goto(live_server.url + CHECK)
        stranger.get_by_label("Certificate as a file").set_input_files(file)
        stranger.get_by_role("button", name="Check the file").click()
        expect(stranger.get_by_role("heading", level=1)).to_have_text(word)


def test_the_holder_shows_her_levels_and_the_school_suspends(
    live_server, page: Page, stranger: Page, row: Certificate, cast: Cast
):
    address = live_server.url + reverse("assessments:check-code", args=[row.code])
    tablet = Tablet(page, live_server.url)
    tablet.sign_in(cast.ada)
    page.goto(live_server.url + reverse("assessments:my-certificates"))
    page.get_by_role("button", name="Show my levels there").click()
    expect(page.get_by_text("now sees the levels too")).to_be_visible()
    stranger.goto(address)
    expect(stranger.get_by_role("heading", name="Levels reached")).to_be_visible()

    tablet.sign_in(cast.ines)
    page.goto(live_server.url + reverse("assessments:certificate", args=[row.pk]))
    page.get_by_role("link", name="Suspend").click()
    page.get_by_label("Reason").fill("The set of 2 February is looked at again")
    page.get_by_role("button", name="Suspend it").click()
    expect(page.get_by_text("Certificate 1 is suspended.")).to_be_visible()
    stranger.goto(address)
    expect(stranger.get_by_role("heading", level=1)).to_have_text("suspended")
    expect(stranger.get_by_text("looked at again")).to_have_count(0)


def test_every_page_of_it_is_readable_at_any_width(
    live_server, page: Page, row: Certificate, cast: Cast, axe, console_errors: list[str]
):
    public = [CHECK, f"{CHECK}?code=HELLO", reverse("assessments:check-code", args=[row.code])]
    tablet = Tablet(page, live_server.url)
    own = [reverse("assessments:my-certificates"), reverse("assessments:certificate", args=[row.pk])]
    staff = [
        reverse("assessments:certificate-list"),
        reverse("assessments:certificate-reissue", args=[row.pk]),
        *own[1:],
    ]
    for member, addresses in ((None, public), (cast.ada, own), (cast.ines, staff)):
        if member:
            tablet.sign_in(member)
        for address in addresses:
            page.goto(live_server.url + address)
            for width in (320, PHONE, TABLET, DESKTOP):
                set_width(page, width)
                assert sideways_overflow(page) == 0, (address, width)
            axe(page)
    assert console_errors == []
