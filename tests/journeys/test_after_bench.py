"""The pages after the bench in a browser: axe finds nothing, and nobody scrolls sideways on a phone."""

from datetime import timedelta
from typing import Literal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page

from academy.models import Membership
from tests.factories.academy import Cast, make_cast, make_member, sign_in
from tests.factories.assessments import Bench, Outcome, make_graded_set, make_started_set
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric
from tests.services.browser import PHONE, set_width, sideways_overflow

NARROW = 320  # WCAG 2.2, 1.4.10 Reflow
STAFF_PAGES = ("assessments:today", "assessments:student-list")
STUDENT_PAGES = ("assessments:stand", "assessments:stand-changes", "assessments:next", "assessments:my-sets")


@pytest.fixture
def school(transactional_db: None) -> Cast:
    """Ada with three graded sets, Bea at the bench, and a newcomer with a long name."""
    cast = make_cast()
    starter_rubric(cast.academy, cast.owner)
    brief = make_brief(cast.academy, cast.ines)
    ada = Bench(cast.ada, cast.ines, brief, make_head(cast.academy))
    for days in (20, 16, 12):
        outcome = Outcome(faults={0: ["STK"], 5: ["STK", "CLF"], 22: ["BED"]}, bare=[30])
        make_graded_set(ada, at=timezone.now() - timedelta(days=days), outcome=outcome)
    bea = Bench(cast.bea, cast.ines, brief, make_head(cast.academy, "Head 2"))
    make_started_set(bea, at=timezone.now() - timedelta(hours=1))
    make_member(cast.academy, "Wolfeschlegelsteinhausenbergerdorff Nguyễn Thị Hồng Phượng")
    return cast


def enter(page: Page, live_server, member: Membership) -> None:
    client = Client()
    sign_in(client, member)
    for name, cookie in client.cookies.items():
        page.context.add_cookies([{"name": name, "value": cookie.value, "url": live_server.url}])


def paths(cast: Cast) -> list[tuple[Membership, str]]:
    practice_set = cast.ada.practice_sets.latest("number")
    one_set = reverse("assessments:set", args=[practice_set.uid])
    student = reverse("assessments:student", args=[cast.ada.pk])
    staff = [reverse(name) for name in STAFF_PAGES]
    own = [reverse(name) for name in STUDENT_PAGES]
    return [(cast.ines, path) for path in (*staff, student, one_set)] + [
        (cast.ada, path) for path in (*own, one_set)
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


def test_a_skill_that_reaches_its_target_opens_by_keyboard(page: Page, live_server, school: Cast):
    enter(page, live_server, school.ada)
    page.goto(live_server.url + reverse("assessments:stand"))
    line = page.locator(".skill-line").first
    line.focus()
    page.keyboard.press("Enter")
    assert line.locator("xpath=..").get_by_text("At or above the target").is_visible()


def test_the_places_at_fault_on_the_eye_are_also_told_in_words(page: Page, live_server, school: Cast):
    enter(page, live_server, school.ada)
    page.goto(live_server.url + reverse("assessments:stand"))
    page.get_by_text("places at fault, in words").click()
    drawn = page.locator(".eye-marks :is(.eye-mark--faulty, .eye-mark--bare)")
    told = page.locator(".fault-list li")
    assert drawn.count() == told.count() == 4
