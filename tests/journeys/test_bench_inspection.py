"""The inspection in the browser: few taps, keys alone, nothing lost to reloads, the Wi-Fi or a second tab."""

from dataclasses import replace
from decimal import Decimal
from typing import Literal
from urllib.parse import quote

import pytest
from playwright.sync_api import expect

from assessments.models import Inspection, Position, PracticeSet, SetEvent
from courses.mapping.lash_map import Fan
from tests.factories.assessments import Bench, make_finished_set
from tests.factories.courses import make_brief, plain_map
from tests.journeys.tablet import Tablet, small_or_crowded
from tests.services.browser import DESKTOP, HEIGHTS, PHONE, TABLET, set_width, sideways_overflow

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.browser_context_args(has_touch=True, viewport={"width": TABLET, "height": HEIGHTS[TABLET]}),
]


@pytest.fixture
def practice_set(bench: Bench) -> PracticeSet:
    """Finished, with 40 drawn positions waiting."""
    return make_finished_set(bench)


def finding(index: int) -> str:
    return Position.objects.get(index=index).finding


def faults_at(index: int) -> set[str]:
    return set(Position.objects.get(index=index).faults.values_list("code", flat=True))


def test_forty_clean_fans_take_at_most_45_taps(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")
    for number in range(1, 41):
        tablet.expect_position(number)
        tablet.tap(tablet.button("Clean, next"))
    tablet.tap(tablet.button("Close inspection"))
    tablet.page.wait_for_url("**/marks/")
    assert tablet.taps <= 45  # the promise of the product, closing included
    assert Position.objects.filter(finding="clean").count() == 40


def test_keys_alone_inspect_a_whole_set(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")
    page, press = tablet.page, tablet.page.keyboard.press
    tablet.expect_position(1)
    press("1")
    expect(tablet.next).to_have_text("Next, 1 fault")
    _press_next(tablet, "Enter")
    tablet.expect_position(2)
    press("u")
    tablet.expect_position(1)
    expect(tablet.next).to_have_text("Clean, next")
    for number in range(1, 41):
        tablet.expect_position(number)
        _press_next(tablet, " " if number % 2 else "Enter")
    expect(page.get_by_role("heading", name="Every position is looked at")).to_be_visible()
    press("Tab")
    page.get_by_role("button", name="Close inspection").focus()
    press("Enter")
    page.wait_for_url("**/marks/")
    assert Position.objects.filter(finding="clean").count() == 40


def test_arrows_move_without_recording(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")
    tablet.expect_position(1)
    tablet.page.keyboard.press("ArrowRight")
    tablet.expect_position(2)
    tablet.page.keyboard.press("ArrowLeft")
    tablet.expect_position(1)
    assert not SetEvent.objects.filter(kind="position").exists()


def test_single_keys_can_be_switched_off(tablet: Tablet, practice_set: PracticeSet):
    """WCAG 2.2, success criterion 2.1.4: character key shortcuts."""
    tablet.open_set(practice_set, "inspect/")
    tablet.tap(tablet.page.get_by_text("Keys", exact=True))
    tablet.page.get_by_label("Single keys").uncheck()
    tablet.page.keyboard.press("1")
    tablet.page.reload()
    tablet.expect_position(1)
    tablet.page.keyboard.press("1")
    expect(tablet.next).to_have_text("Clean, next")


def test_a_held_key_marks_one_fan(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")
    tablet.expect_position(1)
    for _ in range(5):
        tablet.page.keyboard.down("Enter")  # from the second on the browser reports a repeat
        tablet.page.wait_for_timeout(130)
    tablet.page.keyboard.up("Enter")
    tablet.expect_position(2)


def test_a_reload_in_the_middle_keeps_findings_and_ticks(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")
    tablet.tap(tablet.fault("STK"))
    tablet.tap(tablet.next)
    tablet.tap(tablet.next)
    tablet.tap(tablet.fault("NOW"))
    tablet.page.reload()
    tablet.expect_position(3)
    expect(tablet.fault("NOW")).to_have_attribute("aria-pressed", "true")
    tablet.tap(tablet.next)
    tablet.expect_saved()
    assert [finding(index) for index in range(4)] == ["faulty", "clean", "faulty", "unseen"]
    assert (faults_at(0), faults_at(2)) == ({"STK"}, {"NOW"})


def test_a_gap_in_the_wifi_loses_nothing(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")
    tablet.tap(tablet.next)
    tablet.expect_saved()
    tablet.page.context.set_offline(True)
    tablet.tap(tablet.fault("STK"))
    tablet.tap(tablet.next)
    for _ in range(3):
        tablet.tap(tablet.next)
    tablet.tap(tablet.page.locator("[data-bare]"))
    expect(tablet.button("Send now (5)")).to_be_visible()
    tablet.expect_position(7)
    tablet.page.context.set_offline(False)
    tablet.expect_saved()
    found = [finding(index) for index in range(7)]
    assert found == ["clean", "faulty", "clean", "clean", "clean", "bare", "unseen"]
    assert SetEvent.objects.filter(kind="position").count() == 6


def test_findings_made_without_wifi_survive_closing_the_page(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")
    tablet.page.route("**/events/", lambda route: route.abort())
    tablet.tap(tablet.next)
    tablet.tap(tablet.next)
    tablet.page.goto("about:blank")
    tablet.page.unroute("**/events/")
    assert finding(0) == "unseen"
    tablet.open_set(practice_set, "inspect/")
    tablet.expect_position(3)
    tablet.expect_saved()
    assert [finding(0), finding(1)] == ["clean", "clean"]


def test_an_answer_lost_on_the_way_back_records_once(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")

    def lose_answer(route) -> None:
        route.fetch()
        route.abort()

    tablet.page.route("**/events/", lose_answer, times=1)
    tablet.tap(tablet.next)
    tablet.expect_saved()
    tablet.expect_position(2)
    assert SetEvent.objects.filter(kind="position").count() == 1


def test_what_waits_in_the_browser_names_nobody(tablet: Tablet, practice_set: PracticeSet):
    """OWASP ASVS 5.0, 14.3.3: no personal data in browser storage."""
    tablet.open_set(practice_set, "inspect/")
    tablet.page.context.set_offline(True)
    tablet.tap(tablet.fault("STK"))
    tablet.tap(tablet.next)
    tablet.tap(tablet.fault("NOW"))
    kept = tablet.page.evaluate("JSON.stringify({...localStorage})")
    assert "STK" in kept and "NOW" in kept
    assert "Ada" not in kept and "Ines" not in kept


def test_somebody_signed_out_keeps_her_findings_and_is_shown_the_way_back(
    tablet: Tablet, practice_set: PracticeSet, bench: Bench
):
    tablet.open_set(practice_set, "inspect/")
    tablet.page.context.clear_cookies()
    tablet.tap(tablet.next)
    tablet.tap(tablet.next)
    way_back = tablet.page.get_by_role("link", name="Sign in again")
    expect(way_back).to_have_attribute(
        "href", f"/account/login/?next={quote(f'/bench/{practice_set.uid}/inspect/', '')}"
    )
    tablet.sign_in(bench.educator)
    tablet.open_set(practice_set, "inspect/")
    tablet.expect_position(3)
    tablet.expect_saved()
    assert [finding(0), finding(1)] == ["clean", "clean"]


def test_a_second_tab_follows_the_first(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")
    second = Tablet(tablet.page.context.new_page(), tablet.site)
    second.open_set(practice_set, "inspect/")
    second.expect_position(1)
    tablet.page.bring_to_front()
    tablet.tap(tablet.fault("STK"))
    tablet.tap(tablet.next)
    tablet.expect_saved()
    second.page.bring_to_front()
    second.page.evaluate("dispatchEvent(new Event('focus'))")
    second.page.get_by_text("All positions").tap()
    expect(second.page.locator("[data-looking] [data-to='0']")).to_contain_text("◆")
    second.tap(second.next)
    second.expect_saved()
    assert Position.objects.exclude(finding="unseen").count() >= 1
    assert faults_at(0) == {"STK"}


def test_a_finding_the_server_refuses_is_told_and_shown_as_it_is(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")
    tablet.expect_position(1)
    PracticeSet.objects.filter(pk=practice_set.pk).update(state="inspected")
    Inspection.objects.update(closed_at=practice_set.finished_at)
    tablet.tap(tablet.next)
    expect(tablet.page.get_by_role("alert")).to_contain_text("not open for inspection")
    expect(tablet.page.get_by_role("link", name="Go to the marks")).to_be_visible()
    assert finding(0) == "unseen"


def test_measures_are_asked_on_the_sub_sample_and_never_block(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "inspect/")
    gaps = tablet.page.get_by_role("group", name="Gap to the lid")
    wanted = dict(Position.objects.values_list("index", "wants_gap"))
    first = min(index for index, wants in wanted.items() if wants)
    for index in range(first):
        tablet.expect_position(index + 1)
        expect(gaps).to_be_hidden()
        tablet.tap(tablet.next)
    tablet.expect_position(first + 1)
    tablet.tap(gaps.get_by_role("button", name="0.7", exact=True))
    tablet.tap(tablet.next)
    second = min(index for index, wants in wanted.items() if wants and index > first)
    for index in range(first + 1, second + 1):
        tablet.expect_position(index + 1)
        tablet.tap(tablet.next)  # the second measure is passed over
    tablet.expect_position(second + 2)
    tablet.expect_saved()
    assert float(Position.objects.get(index=first).gap_mm or 0) == 0.7
    assert Position.objects.get(index=second).gap_mm is None


def test_another_gap_is_typed_with_a_comma_and_an_impossible_one_is_refused(
    tablet: Tablet, practice_set: PracticeSet
):
    first = Position.objects.filter(wants_gap=True).order_by("index")[0].index
    tablet.open_set(practice_set, "inspect/")
    tablet.expect_position(1)
    for _ in range(first):
        tablet.page.keyboard.press("ArrowRight")
    tablet.expect_position(first + 1)
    other = tablet.page.get_by_role("group", name="Gap to the lid").get_by_label("Other")
    other.fill("45")
    other.press("Enter")
    assert other.evaluate("field => field.validationMessage") == "Enter a number from 0 to 20."
    other.fill("1,85")
    other.press("Enter")
    _press_next(tablet, "Enter")
    tablet.expect_saved()
    assert float(Position.objects.get(index=first).gap_mm or 0) == 1.85


@pytest.mark.parametrize("width", [PHONE, TABLET])
def test_the_place_and_the_first_faults_are_in_view_when_the_page_opens_and_at_every_next_place(
    tablet: Tablet, practice_set: PracticeSet, width: int
):
    set_width(tablet.page, width)
    tablet.open_set(practice_set, "inspect/")
    tablet.expect_position(1)
    seen = [tablet.page.locator(".bench-top"), tablet.page.locator("[data-place]"), tablet.fault("STK")]
    for part in seen:
        expect(part).to_be_in_viewport(ratio=1)
    tablet.tap(tablet.page.locator("[data-fault]").last)  # the page scrolls down to it on a phone
    tablet.tap(tablet.next)
    tablet.expect_position(2)
    for part in seen:
        expect(part).to_be_in_viewport(ratio=1)


def test_only_faults_of_the_shape_that_is_wanted_there_are_offered(
    tablet: Tablet, bench: Bench, practice_set: PracticeSet
):
    """The factory's brief wants open fans: they may be too narrow, never too open."""
    tablet.open_set(practice_set, "inspect/")
    expect(tablet.page.locator("[data-place]")).to_contain_text("open fan")
    expect(tablet.fault("CLF")).to_be_visible()
    expect(tablet.fault("OPN")).to_have_count(0)


def test_on_a_map_of_two_shapes_every_place_offers_the_faults_of_its_own(tablet: Tablet, bench: Bench):
    """Closed fans on top may open too far; open fans below may be too narrow."""
    lash_map = plain_map()
    closed = Fan("closed", 3, 7, "C")
    cells = {
        key: replace(planned, fan=closed) if key[2] == "top" else planned
        for key, planned in lash_map.cells.items()
    }
    brief = make_brief(
        bench.academy, bench.educator, name="Two shapes", lash_map=replace(lash_map, cells=cells)
    )
    tablet.open_set(make_finished_set(replace(bench, brief=brief)), "inspect/")
    for layer, offered, other in (("top", "OPN", "CLF"), ("bottom", "CLF", "OPN")):
        place = tablet.page.locator("[data-place]")
        for _ in range(40):
            if f"{layer} layer" in (place.text_content() or ""):
                break
            tablet.page.keyboard.press("ArrowRight")
        expect(tablet.fault(offered)).to_be_visible()
        expect(tablet.fault(other)).to_be_hidden()


def test_a_length_is_measured_in_one_tap_and_off_the_map_it_is_a_fault(
    tablet: Tablet, practice_set: PracticeSet
):
    first = Position.objects.filter(wants_length=True).order_by("index")[0]
    planned = first.planned_mm(practice_set.brief.lash_map)
    tablet.open_set(practice_set, "inspect/")
    tablet.expect_position(1)
    for _ in range(first.index):
        tablet.page.keyboard.press("ArrowRight")
    lengths = tablet.page.get_by_role("group", name=f"Length found, mm (planned {planned})")
    steps = lengths.get_by_role("button").all_text_contents()
    assert steps == [str(planned + offset) for offset in (-2, -1, 0, 1, 2)]
    tablet.tap(lengths.get_by_role("button", name=str(planned + 2), exact=True))
    expect(tablet.fault("MAP")).to_have_attribute("aria-pressed", "true")
    tablet.tap(lengths.get_by_role("button", name=str(planned), exact=True))
    expect(tablet.fault("MAP")).to_have_attribute("aria-pressed", "false")
    tablet.tap(lengths.get_by_role("button", name=str(planned + 1), exact=True))
    tablet.tap(tablet.next)
    tablet.expect_saved()
    first.refresh_from_db()
    assert (first.found_length_mm, first.finding) == (Decimal(planned + 1), "faulty")
    assert faults_at(first.index) == {"MAP"}
    assert "eye-mark--long" in (
        tablet.page.locator(f'.eye-mark[data-index="{first.index}"]').get_attribute("class") or ""
    )


def test_a_position_can_be_looked_at_again_before_closing(tablet: Tablet, practice_set: PracticeSet):
    Position.objects.update(finding="clean", seen_at=practice_set.finished_at)
    tablet.open_set(practice_set, "inspect/")
    tablet.tap(tablet.page.get_by_text("Look at a position again"))
    tablet.tap(tablet.page.locator("[data-summary] [data-to='5']"))
    tablet.expect_position(6)
    tablet.tap(tablet.fault("STK"))
    tablet.tap(tablet.next)
    expect(tablet.page.locator("[data-tally]")).to_contain_text("39 clean")
    tablet.expect_saved()
    assert faults_at(5) == {"STK"}


@pytest.mark.parametrize("width", [PHONE, TABLET, DESKTOP])
def test_every_target_is_48_pixels_with_8_between(tablet: Tablet, practice_set: PracticeSet, width: int):
    first = Position.objects.filter(wants_gap=True, wants_length=True).order_by("index")[0].index
    set_width(tablet.page, width)
    tablet.open_set(practice_set, "inspect/")
    tablet.expect_position(1)
    for _ in range(first):
        tablet.page.keyboard.press("ArrowRight")
    tablet.page.get_by_text("All positions").click()
    tablet.page.get_by_text("Keys", exact=True).click()
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
    tablet.open_set(practice_set, "inspect/")
    tablet.expect_position(1)
    tablet.tap(tablet.fault("STK"))
    axe(tablet.page)
    set_width(tablet.page, 320)
    assert sideways_overflow(tablet.page) == 0
    assert console_errors == []


def _press_next(tablet: Tablet, key: str) -> None:
    tablet.page.wait_for_timeout(120)
    tablet.page.keyboard.press(key)
