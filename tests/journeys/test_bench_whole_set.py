"""A whole practice set by finger on a tablet: opened, timed, inspected, marked, signed."""

import re
from typing import Literal

import pytest
from playwright.sync_api import expect

from assessments.models import Grade, Position, PracticeSet
from tests.factories.assessments import Bench
from tests.journeys.tablet import Tablet, small_or_crowded
from tests.services.browser import HEIGHTS, TABLET, set_width, sideways_overflow

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.browser_context_args(has_touch=True, viewport={"width": TABLET, "height": HEIGHTS[TABLET]}),
]
# Two stuck fans, and four with one fault each on other skills.
FAULTY = {3: "STK", 8: "STK", 14: "ASY", 21: "NOW", 27: "ASY", 39: "DIR"}


def test_a_set_is_opened_timed_inspected_marked_and_signed_by_touch_alone(
    tablet: Tablet, bench: Bench, console_errors: list[str]
):
    _open_by_touch(tablet)
    _time_by_touch(tablet)
    tablet.page.wait_for_url("**/inspect/")
    for index in range(40):
        tablet.expect_position(index + 1)
        if index in FAULTY:
            tablet.tap(tablet.fault(FAULTY[index]))
        for measure in ("0.7", "5°"):
            step = tablet.button(measure)
            if step.is_visible():
                tablet.tap(step)
        tablet.tap(tablet.next)
    tablet.tap(tablet.button("Close inspection"))
    tablet.page.wait_for_url("**/marks/")
    _sign_by_touch(tablet)
    grade = Grade.objects.get()
    assert grade.practice_set.state == "graded" and grade.practice_set.student == bench.student
    found = Position.objects.filter(finding="faulty").values_list("index", "faults__code")
    assert dict(found) == FAULTY
    assert Position.objects.filter(finding="clean").count() == 40 - len(FAULTY)
    assert console_errors == []


def _open_by_touch(tablet: Tablet) -> None:
    tablet.open("/bench/new/")
    page = tablet.page
    tablet.tap(page.get_by_text("Ada Marsh"))
    tablet.tap(page.get_by_text("Head 2"))
    page.get_by_label("Adhesive lot").fill("K-2201")
    page.get_by_label("Opened on").fill(page.evaluate("new Date().toISOString().slice(0, 10)"))
    page.get_by_label("Room temperature").fill("21")
    page.get_by_label("Humidity").fill("50")
    tablet.tap(tablet.button("To the bench"))


def _time_by_touch(tablet: Tablet) -> None:
    page = tablet.page
    tablet.tap(tablet.button("Start"))
    tablet.tap(page.get_by_role("button", name="Right eye, top layer"))
    tablet.breathe()
    tablet.tap(tablet.button("Pause"))
    tablet.tap(tablet.button("Break"))
    tablet.tap(tablet.button("Resume"))
    tablet.breathe()
    tablet.tap(tablet.button("Finish"))
    tablet.breathe()
    tablet.tap(page.locator("[data-finish]"))


def _sign_by_touch(tablet: Tablet) -> None:
    page = tablet.page
    isolation = page.get_by_role("group", name="Isolation")
    # 2 of 40: Wilson interval at 90 % (Wilson 1927, computed with statsmodels) 1.67 to 14.03 %; 2 stuck is
    # "developing" on the starter rubric.
    expect(isolation).to_contain_text("2 stuck of 40: 5 %, 90 % interval 1.7–14.0 %, band 2")
    expect(isolation.get_by_role("radio", name="2")).to_be_checked()
    tablet.tap(tablet.button("All lines met"))
    for name in ("Fans placed, right eye", "Fans placed, left eye"):
        page.get_by_label(name).fill("80")
    for criterion in ("Product fit", "Layers"):
        tablet.tap(page.get_by_role("group", name=criterion).locator(".bench-level").nth(3))
    page.get_by_label("Note to the student").fill("Cleaner bases today. Watch the neighbours.")
    expect(page.locator("[data-draft-words]")).to_have_text(re.compile(r"Saved \d\d:\d\d"))
    # The first drill offered answers the worst fault, gates first: the two stuck fans.
    expect(page.get_by_label("Drill until").locator("option:checked")).to_contain_text("Sticky: 2 of 40")
    tablet.tap(tablet.button("Sign as Ines Carvalho"))
    page.wait_for_url("**/sets/*/")


def test_the_second_set_of_the_day_opens_in_two_taps(tablet: Tablet, bench: Bench):
    _open_by_touch(tablet)
    tablet.page.wait_for_url(re.compile(r"/bench/[0-9a-f-]{36}/$"))
    PracticeSet.objects.update(state="abandoned")
    tablet.open("/bench/new/")
    tablet.taps = 0
    tablet.tap(tablet.page.get_by_text("Ada Marsh"))
    expect(tablet.page.get_by_label("Soft volume")).to_be_checked()
    tablet.tap(tablet.button("To the bench"))
    tablet.page.wait_for_url(re.compile(r"/bench/[0-9a-f-]{36}/$"))
    assert tablet.taps == 2  # the promise of the product
    newest = PracticeSet.objects.order_by("-number")[0]
    assert (newest.adhesive_lot, newest.room_rh) == ("K-2201", 50)


def test_an_old_bottle_is_a_warning_and_no_ban(tablet: Tablet, bench: Bench):
    _open_form_with_bottle_of(tablet, "2026-01-02")
    warning = tablet.page.get_by_role("alert")
    expect(warning).to_contain_text("past its 28")
    expect(tablet.page.get_by_label("Adhesive lot")).to_have_value("K-2201")  # nothing typed is lost
    tablet.tap(tablet.button("Go on all the same"))
    expect(tablet.button("Start")).to_be_visible()


def _open_form_with_bottle_of(tablet: Tablet, day: str) -> None:
    page = tablet.page
    tablet.open("/bench/new/")
    tablet.tap(page.get_by_text("Ada Marsh"))
    page.get_by_label("Adhesive lot").fill("K-2201")
    page.get_by_label("Opened on").fill(day)
    page.get_by_label("Room temperature").fill("21")
    page.get_by_label("Humidity").fill("50")
    tablet.tap(tablet.button("To the bench"))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_opening_a_set_has_room_for_fingers_and_readers(
    tablet: Tablet, scheme: Literal["light", "dark"], axe, console_errors: list[str]
):
    tablet.page.emulate_media(color_scheme=scheme)
    tablet.open("/bench/new/")
    axe(tablet.page)
    assert small_or_crowded(tablet.page) == []
    set_width(tablet.page, 320)
    assert sideways_overflow(tablet.page) == 0
    assert console_errors == []
