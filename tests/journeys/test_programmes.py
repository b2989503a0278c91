"""Programmes in a browser: axe finds nothing, nobody scrolls sideways, a course goes from draft to hours."""

from datetime import timedelta
from typing import Literal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from academy.models import Membership
from courses.models import HoursEntry, ProgrammeVersion, UnitSignOff
from courses.selectors.enrolments import open_enrolment
from courses.services.hours import HoursContent, correct_hours
from courses.services.programmes import copy_programme_version
from courses.services.sign_offs import sign_off
from tests.factories.academy import Cast, make_cast, sign_in
from tests.factories.programmes import (
    HYGIENE,
    make_enrolment,
    make_hours,
    make_programme,
    next_version,
)
from tests.factories.rubrics import starter_rubric
from tests.services.browser import PHONE, set_width, sideways_overflow

NARROW = 320  # WCAG 2.2, 1.4.10 Reflow


@pytest.fixture
def school(transactional_db: None) -> Cast:
    """Ada on the first of two versions, with hours, a correction and sign-offs; a draft follows."""
    cast = make_cast()
    starter_rubric(cast.academy, cast.owner)
    now = timezone.now()
    first = make_programme(cast.owner)
    enrolment = make_enrolment(cast.ada, cast.owner, first)
    entry = make_hours(enrolment, cast.ines, minutes=150, note="Hygiene, the eye, how lashes grow")
    content = HoursContent(kind="online", minutes=120, on=entry.on)
    correct_hours(entry=entry, content=content, reason="It was online.", actor=cast.ines, now=now)
    units = {unit.code: unit for unit in first.units.all()}
    for code, passed in (("hygiene", True), ("removal", True), ("removal", False)):
        note = "" if passed else "Swab again."
        sign_off(enrolment=enrolment, units=[units[code]], passed=passed, note=note, actor=cast.ines, now=now)
    newer = next_version(first, cast.owner, units=(HYGIENE,))
    copy_programme_version(version=newer, actor=cast.owner, now=now)
    return cast


def enter(page: Page, live_server, member: Membership) -> None:
    client = Client()
    sign_in(client, member)
    for name, cookie in client.cookies.items():
        page.context.add_cookies([{"name": name, "value": cookie.value, "url": live_server.url}])


def paths(cast: Cast) -> list[tuple[Membership, str]]:
    first, newer, draft = ProgrammeVersion.objects.order_by("number")
    entry = HoursEntry.objects.get(corrected_by=None)
    owners = [
        *(reverse(f"courses:programme-{name}") for name in ("list", "new", "enrol")),
        reverse("courses:programme-version", args=[first.pk]),
        *(reverse(f"courses:programme-{name}", args=[draft.pk]) for name in ("edit", "publish", "discard")),
        *(reverse(f"courses:enrolment{name}", args=[cast.ada.pk]) for name in ("", "-end")),
        reverse("courses:enrolment-move", args=[cast.ada.pk, newer.pk]),
    ]
    educators = [
        *(reverse(f"courses:{name}", args=[cast.ada.pk]) for name in ("enrolment-units", "hours-enter")),
        reverse("courses:hours-correct", args=[entry.pk]),
        reverse("courses:hours-group"),
    ]
    return [
        *((cast.owner, path) for path in owners),
        *((cast.ines, path) for path in educators),
        (cast.ada, reverse("courses:my-programme")),
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_nobody_scrolls_sideways(
    page: Page, live_server, school: Cast, axe, console_errors: list[str], scheme: Literal["light", "dark"]
):
    page.emulate_media(color_scheme=scheme)
    for member, path in paths(school):
        enter(page, live_server, member)
        set_width(page, PHONE)
        page.goto(live_server.url + path)
        assert page.locator("h1").inner_text()
        axe(page)
        set_width(page, NARROW)
        assert sideways_overflow(page) == 0, path
    assert console_errors == []


def test_a_refused_draft_passes_axe_and_leads_from_the_summary_to_the_unit(
    page: Page, live_server, school: Cast, axe
):
    draft = ProgrammeVersion.objects.get(published_at=None)
    enter(page, live_server, school.owner)
    page.goto(live_server.url + reverse("courses:programme-edit", args=[draft.pk]))
    page.locator("#id_theory_hours").fill("-3")
    page.locator("#id_unit-0-place").fill("0")
    page.locator("#id_scope").fill("Typed just now")
    page.get_by_role("button", name="Save the draft").click()
    expect(page.get_by_text("Please correct this first")).to_be_visible()
    axe(page)
    assert page.locator("#id_scope").input_value() == "Typed just now"
    page.get_by_role("link", name="Unit 1, place").click()
    expect(page.locator("#id_unit-0-place")).to_be_focused()


def test_from_the_draft_to_hours_and_a_sign_off(page: Page, live_server, school: Cast):
    """Everything by what a person reads on the page."""
    draft = ProgrammeVersion.objects.get(published_at=None)
    enter(page, live_server, school.owner)
    page.goto(live_server.url + reverse("courses:programme-edit", args=[draft.pk]))
    publish_and_enrol(page, "Bea Holm")
    page.get_by_role("link", name="Bea Holm").click()
    enter_hours(page)
    expect(page.get_by_text("2 h 30 min").first).to_be_visible()
    page.get_by_role("link", name="Sign off units").click()
    page.get_by_label("Hygiene and disinfection").check()
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.get_by_text("Units: 1 of 1 passed")).to_be_visible()
    enrolment = open_enrolment(school.bea)
    assert enrolment is not None and enrolment.version == draft
    assert enrolment.hours.get().minutes == 150
    assert UnitSignOff.objects.get(enrolment=enrolment).signed_by == school.owner


def publish_and_enrol(page: Page, name: str) -> None:
    page.locator("#id_hours_source").fill("Read at the board")
    page.get_by_role("button", name="Save and go on to publish").click()
    page.get_by_role("button", name="Publish it").click()
    page.get_by_role("link", name="Enrol students").click()
    page.get_by_label(name).check()
    page.get_by_role("button", name="Enrol them").click()


def enter_hours(page: Page) -> None:
    page.get_by_role("link", name="Enter hours").click()
    page.get_by_label("Practical").check()
    page.get_by_label("Day").fill((timezone.now() - timedelta(days=1)).date().isoformat())
    page.get_by_label("Hours", exact=True).fill("2")
    page.get_by_label("Minutes").fill("30")
    page.get_by_role("button", name="Enter the hours").click()
