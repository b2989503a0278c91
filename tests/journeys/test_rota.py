"""A place is booked, moved and given back; every page of the rota fits screens, readers and paper."""

import re
from datetime import timedelta
from typing import Any

import pymupdf
import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from courses.models import Booking, FreeHours
from courses.services.bookings import book, propose_booking
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, Rota, coming, make_rota, place_for
from tests.journeys.tablet import Tablet
from tests.services.browser import DESKTOP, PHONE, TABLET, set_width, sideways_overflow
from tests.services.printed import words_of

MADE: dict[str, Any] = {"live_allowed": False, "now": MADE_AT}
TAP = 48


@pytest.fixture
def rota(transactional_db: None, cast: Cast) -> Rota:
    return make_rota(cast)


@pytest.fixture
def tablet(live_server, page: Page, rota: Rota) -> Tablet:
    return Tablet(page, live_server.url)


@pytest.fixture
def made(cast: Cast, rota: Rota) -> Booking:
    """One accepted, one proposed, both on a Monday to come."""
    propose_booking(
        place=place_for(cast, rota, starts_at=coming() + timedelta(hours=3)), actor=cast.ines, **MADE
    )
    return book(place=place_for(cast, rota, starts_at=coming()), actor=cast.ines, **MADE)


def pages_of(made: Booking, cast: Cast, rota: Rota) -> dict[str, list[str]]:
    """Every page of the rota, by who opens it."""
    day = coming().date().isoformat()
    times = f"kind={rota.supervised.pk}&skill=&first_on={day}"
    return {
        "owner": [
            reverse("courses:rota-setup"),
            reverse("courses:rota-opening"),
            reverse("courses:rota-rules"),
            reverse("courses:room-edit", args=[rota.room.pk]),
            reverse("courses:kind-new"),
            reverse("courses:rota-educator", args=[cast.ines.pk]),
        ],
        "ines": [
            reverse("courses:rota") + f"?day={day}",
            reverse("courses:agenda"),
            reverse("courses:booking", args=[made.uid]),
            reverse("courses:booking-cancel", args=[made.uid]),
            reverse("assessments:booking-move", args=[made.uid]),
            reverse("assessments:booking-new") + f"?student={cast.bea.pk}&{times}",
        ],
        "ada": [
            reverse("courses:my-times"),
            reverse("courses:free-times"),
            reverse("courses:wait"),
            reverse("courses:my-calendar"),
            reverse("courses:my-booking-cancel", args=[made.uid]),
            reverse("assessments:my-booking-new") + f"?{times}",
        ],
    }


@pytest.mark.parametrize("who", ["owner", "ines", "ada"])
def test_every_page_is_clean_for_axe_and_fits_every_screen(
    tablet: Tablet,
    page: Page,
    cast: Cast,
    rota: Rota,
    made: Booking,
    who: str,
    axe,
    console_errors: list[str],
):
    tablet.sign_in(getattr(cast, who))
    for address in pages_of(made, cast, rota)[who]:
        tablet.open(address)
        axe(page)
        for width in (320, PHONE, TABLET, DESKTOP):
            set_width(page, width)
            assert sideways_overflow(page) == 0, (address, width)
        assert small_targets(page) == [], address
    assert console_errors == []


def small_targets(page: Page) -> list[str]:
    """What is pressed, but lower than a finger in a glove needs."""
    found: list[str] = page.evaluate(
        """(tap) => [...document.querySelectorAll(
            'main .button, main button, main select, .rota-views a, .booking > a')]
            .filter((each) => each.getBoundingClientRect().height < tap - 0.5)
            .map((each) => each.outerHTML.slice(0, 120))""",
        TAP,
    )
    return found


def test_a_student_books_a_place_with_the_keyboard_alone(tablet: Tablet, page: Page, cast: Cast):
    tablet.sign_in(cast.ada)
    tablet.open(reverse("courses:my-times"))
    _press(page, "Book a time")
    expect(page.get_by_role("heading", name="Book a time")).to_be_visible()
    _tab_to(page, "Kind of session")
    page.keyboard.type("Supervised")
    _press(page, "Show times")
    first = page.locator(".times button").first
    expect(first).to_be_visible()
    _press(page, str(first.get_attribute("aria-label")))
    expect(page.get_by_text("Booked.")).to_be_visible()
    assert Booking.objects.get().kind.name == "Supervised bench"


def _tab_to(page: Page, name: str) -> None:
    """With the Tab key alone, to what a screen reader calls so."""
    said = (
        "document.activeElement.getAttribute('aria-label') || document.activeElement.labels?.[0]?.innerText"
    )
    for _ in range(60):
        page.keyboard.press("Tab")
        if name in str(page.evaluate(f"{said} || document.activeElement.innerText || ''")):
            return
    pytest.fail(f"The Tab key never comes to {name!r}.")


def _press(page: Page, name: str) -> None:
    _tab_to(page, name)
    page.keyboard.press("Enter")


def test_a_place_is_moved_accepted_and_given_back_on_a_phone(
    tablet: Tablet, page: Page, cast: Cast, made: Booking
):
    set_width(page, PHONE)
    tablet.sign_in(cast.ada)
    tablet.open(reverse("courses:my-times"))
    page.get_by_role("button", name=re.compile("^Accept")).click()
    expect(page.get_by_text("Accepted.")).to_be_visible()
    page.get_by_role("link", name=re.compile("^Move")).first.click()
    page.locator(".times button").last.click()
    expect(page.get_by_text("Moved. Those concerned are told.")).to_be_visible()
    page.get_by_role("link", name=re.compile("^Cancel")).first.click()
    page.get_by_role("button", name="Cancel the booking").click()
    expect(page.get_by_text("The place is free for somebody else.")).to_be_visible()
    assert sorted(Booking.objects.values_list("state", flat=True)) == ["accepted", "cancelled"]


def test_free_hours_are_tapped_without_a_script(live_server, browser, rota: Rota, cast: Cast):
    context = browser.new_context(java_script_enabled=False, viewport={"width": PHONE, "height": 844})
    try:
        page = context.new_page()
        tablet = Tablet(page, live_server.url)
        tablet.sign_in(cast.ada)
        tablet.open(reverse("courses:free-times"))
        for hour in ("9", "10"):
            page.get_by_role("checkbox", name=f"{hour} o’clock on Monday", exact=True).check()
        page.get_by_role("button", name="Save my week").click()
        expect(page.get_by_text("Saved.")).to_be_visible()
    finally:
        context.close()
    assert [str(row) for row in FreeHours.objects.all()] == ["Monday 09:00–11:00"]


@pytest.mark.parametrize("name", ["rota", "agenda"])
def test_it_prints_on_one_landscape_sheet_in_the_dark_too(
    tablet: Tablet, page: Page, cast: Cast, made: Booking, name: str
):
    tablet.sign_in(cast.ines)
    page.emulate_media(color_scheme="dark")
    tablet.open(reverse(f"courses:{name}") + f"?day={coming().date()}")
    file = page.pdf(prefer_css_page_size=True)
    (words,) = words_of(file)
    assert "10:00–11:30" in words and "Ada Marsh" in words and "proposed" in words
    assert "Book a place" not in words and "Earlier" not in words
    assert _is_landscape(file)


def _is_landscape(file: bytes) -> bool:
    with pymupdf.open(stream=file, filetype="pdf") as document:
        return all(sheet.rect.width > sheet.rect.height for sheet in document)
