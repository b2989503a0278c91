"""The clock in the browser: worked out from instants, hidden on request, each tap sent once."""

import re
from datetime import timedelta
from typing import Literal

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from assessments.models import PracticeSet, SetEvent
from tests.factories.assessments import Bench, happen, make_open_set
from tests.journeys.tablet import Tablet, small_or_crowded
from tests.services.browser import DESKTOP, HEIGHTS, PHONE, TABLET, set_width, sideways_overflow

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.browser_context_args(has_touch=True, viewport={"width": TABLET, "height": HEIGHTS[TABLET]}),
]


@pytest.fixture
def practice_set(bench: Bench) -> PracticeSet:
    """Opened two hours ago and not started."""
    return make_open_set(bench, at=timezone.now() - timedelta(hours=2))


def kinds() -> list[str]:
    return list(SetEvent.objects.order_by("id").values_list("kind", flat=True))


def shown_seconds(tablet: Tablet) -> int:
    hours, minutes, seconds = tablet.page.locator("[data-clock-time]").inner_text().split(":")
    return 3600 * int(hours) + 60 * int(minutes) + int(seconds)


def test_a_double_tap_on_start_starts_once(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set)
    tablet.button("Start").dblclick()
    expect(tablet.button("Pause")).to_be_visible()
    tablet.expect_saved()
    expect(tablet.button("Break")).to_be_hidden()  # nor does the second tap fall through to Pause
    assert kinds() == ["start"]


def test_the_clock_shows_the_time_worked_after_a_reload(
    tablet: Tablet, practice_set: PracticeSet, bench: Bench
):
    started = timezone.now() - timedelta(minutes=90)
    happen(bench, practice_set, started, "start")
    happen(bench, practice_set, started + timedelta(minutes=30), "pause", reason="break")
    happen(bench, practice_set, started + timedelta(minutes=40), "resume")
    tablet.open_set(practice_set)
    expected = 80 * 60  # 90 minutes since the start, 10 of them paused
    assert abs(shown_seconds(tablet) - expected) < 15
    tablet.page.reload()
    assert abs(shown_seconds(tablet) - expected) < 30
    expect(tablet.page.locator("[data-paused]")).to_contain_text("0:10:00")


def test_a_clock_of_this_device_that_is_wrong_changes_nothing(
    tablet: Tablet, practice_set: PracticeSet, bench: Bench
):
    happen(bench, practice_set, timezone.now() - timedelta(minutes=20), "start")
    tablet.page.clock.install(time=timezone.now() + timedelta(days=3))
    tablet.open_set(practice_set)
    assert abs(shown_seconds(tablet) - 20 * 60) < 15
    tablet.tap(tablet.button("Pause"))
    tablet.tap(tablet.button("Break"))
    tablet.page.clock.run_for(2000)
    tablet.expect_saved()
    paused = SetEvent.objects.get(kind="pause")
    assert abs((paused.received_at - paused.at).total_seconds()) < 15


def test_a_pause_made_without_wifi_counts_from_when_it_was_made(
    tablet: Tablet, practice_set: PracticeSet, bench: Bench
):
    happen(bench, practice_set, timezone.now() - timedelta(minutes=20), "start")
    tablet.open_set(practice_set)
    tablet.page.context.set_offline(True)
    tablet.tap(tablet.button("Pause"))
    tablet.tap(tablet.button("Showing or explaining"))
    expect(tablet.button("Resume")).to_be_visible()
    expect(tablet.button("Send now (1)")).to_be_visible()
    made = timezone.now()
    tablet.page.wait_for_timeout(2500)
    tablet.page.context.set_offline(False)
    tablet.expect_saved()
    paused = SetEvent.objects.get(kind="pause")
    assert paused.at < made < paused.received_at
    assert paused.data["reason"] == "teaching"


def test_finish_asks_for_a_second_tap(tablet: Tablet, practice_set: PracticeSet, bench: Bench):
    happen(bench, practice_set, timezone.now() - timedelta(minutes=20), "start")
    tablet.open_set(practice_set)
    tablet.tap(tablet.button("Finish"))
    expect(tablet.button("Finish: tap again")).to_be_visible()
    assert kinds() == ["start"]
    expect(tablet.button("Finish")).to_be_visible(timeout=8000)  # forgotten after some seconds
    tablet.tap(tablet.button("Finish"))
    tablet.breathe()
    tablet.tap(tablet.button("Finish: tap again"))
    tablet.page.wait_for_url("**/inspect/")
    assert kinds() == ["start", "finish"]


def test_a_second_tab_learns_that_the_set_has_started(tablet: Tablet, practice_set: PracticeSet):
    second = Tablet(tablet.page.context.new_page(), tablet.site)
    tablet.open_set(practice_set)
    second.open_set(practice_set)
    expect(second.button("Start")).to_be_visible()
    tablet.tap(tablet.button("Start"))
    tablet.expect_saved()
    second.page.evaluate("dispatchEvent(new Event('focus'))")
    expect(second.button("Pause")).to_be_visible()
    assert kinds() == ["start"]


def test_a_start_that_comes_too_late_says_so_and_shows_the_running_clock(
    tablet: Tablet, practice_set: PracticeSet, bench: Bench
):
    tablet.open_set(practice_set)
    expect(tablet.button("Start")).to_be_enabled()
    happen(bench, practice_set, timezone.now(), "start")
    tablet.tap(tablet.button("Start"))
    expect(tablet.page.get_by_role("alert")).to_contain_text("This set has already started")
    expect(tablet.button("Pause")).to_be_visible()
    assert kinds() == ["start"]


def test_the_clock_can_be_hidden_and_stays_hidden(tablet: Tablet, practice_set: PracticeSet):
    """WCAG 2.2, success criterion 2.2.2: what moves can be hidden."""
    tablet.open_set(practice_set)
    tablet.tap(tablet.button("Start"))
    tablet.tap(tablet.button("Hide the clock"))
    expect(tablet.page.get_by_role("timer")).to_be_hidden()
    tablet.page.reload()
    expect(tablet.button("Pause")).to_be_visible()
    expect(tablet.page.get_by_role("timer")).to_be_hidden()


def test_the_target_time_is_told_when_it_is_reached(tablet: Tablet, practice_set: PracticeSet, bench: Bench):
    """WCAG 2.2, success criterion 4.1.3: told through a status, without moving the focus."""
    now = timezone.now()
    happen(bench, practice_set, now - timedelta(minutes=30), "start")
    PracticeSet.objects.update(target_s=30 * 60 + 4)
    tablet.open_set(practice_set)
    said = tablet.page.locator("[data-said]")
    expect(said).to_have_text("The target time is reached. The clock goes on.", timeout=9000)
    expect(tablet.page.locator("[data-clock-note]")).to_have_text(re.compile("over the 30 min target"))


def test_an_abandoned_set_needs_its_reason(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set)
    tablet.tap(tablet.page.get_by_text("Abandon this set"))
    tablet.tap(tablet.button("Abandon the set"))
    assert kinds() == []
    tablet.page.get_by_label("Why?").fill("The strip came off.")
    tablet.tap(tablet.button("Abandon the set"))
    expect(tablet.page.get_by_text("This set was abandoned.")).to_be_visible()
    tablet.expect_saved()
    assert SetEvent.objects.get().data["reason"] == "The strip came off."


@pytest.mark.parametrize("width", [PHONE, TABLET, DESKTOP])
def test_every_target_is_48_pixels_with_8_between(
    tablet: Tablet, practice_set: PracticeSet, bench: Bench, width: int
):
    happen(bench, practice_set, timezone.now(), "start")
    set_width(tablet.page, width)
    tablet.open_set(practice_set)
    tablet.button("Pause").click()
    expect(tablet.button("Break")).to_be_visible()
    tablet.page.get_by_text("Abandon this set").click()
    assert small_or_crowded(tablet.page) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_nobody_scrolls_sideways(
    tablet: Tablet,
    practice_set: PracticeSet,
    axe,
    scheme: Literal["light", "dark"],
    console_errors: list[str],
):
    tablet.page.emulate_media(color_scheme=scheme)
    tablet.open_set(practice_set)
    tablet.tap(tablet.button("Start"))
    tablet.breathe()
    tablet.tap(tablet.button("Pause"))
    axe(tablet.page)
    set_width(tablet.page, 320)
    assert sideways_overflow(tablet.page) == 0
    assert console_errors == []
