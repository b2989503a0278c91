"""The gate to live models in a browser: signed by two people on their own screens, shut by a withdrawal."""

from typing import Literal

import pytest
from django.urls import reverse
from playwright.sync_api import Page

from academy.models import Membership
from tests.factories.academy import Cast
from tests.factories.gate import easier, make_gate_ready
from tests.factories.gate_falls import unit_not_passed
from tests.journeys.test_after_bench import NARROW, enter
from tests.services.browser import PHONE, TABLET, set_width, sideways_overflow

FOR_YEARS = easier(lapse_days=3660)  # the browser's pages read the clock of this machine


@pytest.fixture
def ready(transactional_db: None, cast: Cast) -> Cast:
    make_gate_ready(cast, gate=FOR_YEARS)
    return cast


def open_page(page: Page, live_server, member: Membership, name: str, *args: int) -> None:
    page.context.clear_cookies()
    enter(page, live_server, member)
    page.goto(live_server.url + reverse(name, args=args))


def test_two_people_open_it_and_a_withdrawn_consent_shuts_it(
    page: Page, live_server, ready: Cast, console_errors: list[str]
):
    set_width(page, PHONE)
    open_page(page, live_server, ready.ada, "assessments:my-readiness")
    page.get_by_role("button", name="Sign for the gate").click()
    assert page.get_by_text("waiting for an educator’s signature").is_visible()

    set_width(page, TABLET)
    open_page(page, live_server, ready.ines, "assessments:today")
    page.get_by_role("link", name="Ada Marsh").first.click()
    page.get_by_role("button", name="Sign for the gate").click()
    assert page.locator(".gate-state--open").is_visible()

    set_width(page, PHONE)
    open_page(page, live_server, ready.ada, "academy:consents")
    page.get_by_role("button", name="Withdraw assessment record").click()
    page.get_by_role("link", name="Readiness").click()
    assert page.locator(".gate-state--shut").is_visible()
    assert page.get_by_text("a condition no longer met").is_visible()
    page.get_by_role("link", name="My consents for consent").click()
    assert page.get_by_role("heading", name="My consents").is_visible()
    assert console_errors == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_nobody_scrolls_sideways(
    page: Page, live_server, ready: Cast, axe, scheme: Literal["light", "dark"]
):
    unit_not_passed(ready, ready.ada.enrolments.get(), ready.ada.joined_at)
    page.emulate_media(color_scheme=scheme)
    for member, name, args in (
        (ready.ines, "assessments:readiness", [ready.ada.pk]),
        (ready.ines, "assessments:gate-close", [ready.ada.pk]),
        (ready.ada, "assessments:my-readiness", []),
        (ready.ada, "academy:consents", []),
    ):
        open_page(page, live_server, member, name, *args)
        for details in page.locator("main summary").all():
            details.click()
        set_width(page, PHONE)
        axe(page)
        set_width(page, NARROW)
        assert sideways_overflow(page) == 0, name
