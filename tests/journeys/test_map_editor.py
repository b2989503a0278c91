"""The lash map designer in the browser: by finger, by keys, undone, reloaded, and without scripts."""

import re
from collections.abc import Callable
from typing import Literal

import pytest
from playwright.sync_api import Locator, Page, expect

from courses.models import BriefVersion
from courses.selectors.briefs import newest_version
from tests.factories.academy import Cast
from tests.factories.courses import make_brief
from tests.journeys.tablet import Tablet, small_or_crowded
from tests.services.browser import DESKTOP, HEIGHTS, PHONE, TABLET, set_width, sideways_overflow

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.browser_context_args(has_touch=True, viewport={"width": PHONE, "height": HEIGHTS[PHONE]}),
]

SAVED = re.compile(r"/briefs/\d+/$")
INNER_TOP = "cell-both-inner-top"


class Designer:
    """The designer in Ines's hands."""

    def __init__(self, tablet: Tablet) -> None:
        self.tablet, self.page = tablet, tablet.page

    def cell(self, cell_id: str) -> Locator:
        return self.page.locator(f'[data-grid] [data-choose="{cell_id}"]')

    def panel(self, cell_id: str = INNER_TOP) -> Locator:
        return self.page.locator(f"#{cell_id}")

    def settle(self) -> None:
        """Until what was typed is drawn."""
        self.page.wait_for_timeout(350)
        self.page.wait_for_load_state("networkidle")


@pytest.fixture
def designer(live_server, page: Page, transactional_db: None, cast: Cast) -> Designer:
    tablet = Tablet(page, live_server.url)
    tablet.sign_in(cast.ines)
    return Designer(tablet)


@pytest.fixture
def version(cast: Cast, transactional_db: None) -> BriefVersion:
    return make_brief(cast.academy, cast.ines)


def test_by_finger_alone_a_mix_is_planned_copied_and_saved(designer: Designer, version: BriefVersion):
    tablet, page = designer.tablet, designer.page
    tablet.open(f"/briefs/{version.brief_id}/edit/")
    tap_cell(page, "inner_mid", "top")
    panel = designer.panel("cell-both-inner_mid-top")
    expect(panel).to_be_in_viewport()
    tablet.tap(panel.get_by_role("button", name="Add a length"))
    rows = panel.locator("[data-length]:visible")
    expect(rows).to_have_count(2)
    for _ in range(2):
        tablet.tap(rows.nth(1).get_by_role("button", name="1 mm longer"))  # 11 becomes 13
    for _ in range(5):
        tablet.tap(rows.nth(0).get_by_role("button", name="5 % less"))  # 100 becomes 75
    tablet.tap(rows.nth(1).get_by_role("button", name="Fill rest"))
    tablet.tap(panel.get_by_text("Closed fan", exact=True))
    tablet.tap(panel.get_by_role("button", name="zone outwards"))
    designer.settle()
    expect(designer.cell("cell-both-outer_mid-top")).to_contain_text("10/13")
    tablet.tap(page.get_by_role("button", name="Save as a new version"))
    page.wait_for_url(f"**/briefs/{version.brief_id}/")
    cells = newest_version(version.brief).lash_map.cells
    mixed = cells["both", "inner_mid", "top"]
    assert [(part.length_mm, part.share) for part in mixed.lengths] == [(10, 75), (13, 25)]
    assert mixed.fan.shape == "closed" and cells["both", "outer_mid", "top"] == mixed
    assert cells["both", "inner", "top"] == version.lash_map.cells["both", "inner", "top"]


def tap_cell(page: Page, zone: str, layer: str) -> None:
    """On the drawing, beside its fans."""
    band = page.locator(f'.eye:visible [data-cell][data-zone="{zone}"][data-layer="{layer}"]').first
    band.dispatch_event("click")


@pytest.mark.browser_context_args(viewport={"width": DESKTOP, "height": HEIGHTS[DESKTOP]})
def test_by_keys_alone_a_brief_is_made(designer: Designer):
    page, press = designer.page, designer.page.keyboard.press
    designer.tablet.open("/briefs/new/")
    page.get_by_label("Name").focus()
    page.keyboard.type("Soft corner")
    tab_to(page, "#id_style")
    page.keyboard.type("volume")
    tab_to(page, f'[data-grid] [data-choose="{INNER_TOP}"]')
    press("ArrowRight")
    press("ArrowDown")
    expect(designer.cell("cell-both-inner_mid-bottom")).to_be_focused()
    press("Enter")
    expect(designer.panel("cell-both-inner_mid-bottom")).to_be_focused()
    tab_to(page, '[name="cells/both/inner_mid/bottom/lengths/0/length_mm"]')
    press("ArrowUp")  # the browser's own step of a number: 8 becomes 9
    press("Escape")
    expect(designer.cell("cell-both-inner_mid-bottom")).to_be_focused()
    designer.settle()
    expect(designer.cell("cell-both-inner_mid-bottom")).to_contain_text("9")
    tab_to(page, '[name="minutes_0"]')
    page.keyboard.type("300")
    press("Enter")
    page.wait_for_url(SAVED)
    made = BriefVersion.objects.get()
    assert made.brief.name == "Soft corner"
    assert made.lash_map.cells["both", "inner_mid", "bottom"].longest_mm == 9


def tab_to(page: Page, selector: str, *, most: int = 80) -> None:
    """Reach it by Tab, as somebody without a mouse does."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
    raise AssertionError(f"Tab does not reach {selector}")


def test_undo_and_redo_go_step_by_step_also_over_another_layout(designer: Designer, version: BriefVersion):
    tablet, page = designer.tablet, designer.page
    tablet.open(f"/briefs/{version.brief_id}/edit/")
    undo, redo = tablet.button("Undo"), tablet.button("Redo")
    expect(undo).to_be_disabled()
    tablet.tap(designer.panel().get_by_role("button", name="1 mm longer"))  # 9 becomes 10
    designer.settle()
    page.get_by_label("Zones").select_option("6")
    expect(page.locator("[data-panel]")).to_have_count(12)
    tablet.tap(undo)
    expect(page.locator("[data-panel]")).to_have_count(8)
    expect(designer.cell(INNER_TOP)).to_contain_text("10")
    tablet.tap(undo)
    expect(designer.cell(INNER_TOP)).to_contain_text("9")
    expect(undo).to_be_disabled()
    tablet.tap(redo)
    expect(designer.cell(INNER_TOP)).to_contain_text("10")
    tablet.tap(redo)
    expect(page.locator("[data-panel]")).to_have_count(12)
    expect(redo).to_be_disabled()


def test_unsaved_work_outlives_the_page_until_it_is_saved(designer: Designer, version: BriefVersion):
    tablet, page = designer.tablet, designer.page
    edit = f"/briefs/{version.brief_id}/edit/"
    tablet.open(edit)
    page.get_by_label("Zones").select_option("5")
    expect(page.locator("[data-panel]")).to_have_count(10)
    page.get_by_label("Notes").fill("mind the corner")
    designer.settle()
    page.goto("about:blank")
    tablet.open(edit)
    expect(page.get_by_text("Your unsaved work of")).to_be_visible()
    expect(page.locator("[data-panel]")).to_have_count(10)
    expect(page.get_by_label("Notes")).to_have_value("mind the corner")
    tablet.tap(page.get_by_role("button", name="Save as a new version"))
    page.wait_for_url(f"**/briefs/{version.brief_id}/")
    newest = newest_version(version.brief)
    assert (len(newest.lash_map.zones), newest.notes) == (5, "mind the corner")
    assert page.evaluate("Object.keys(localStorage).filter((key) => key.startsWith('fanlight.brief'))") == []


def test_starting_over_drops_the_unsaved_work(designer: Designer, version: BriefVersion):
    tablet, page = designer.tablet, designer.page
    tablet.open(f"/briefs/{version.brief_id}/edit/")
    page.get_by_label("Notes").fill("not this")
    designer.settle()
    page.reload()
    tablet.tap(page.get_by_role("button", name="Start over from the saved brief"))
    expect(page.get_by_label("Notes")).to_have_value("")
    page.reload()
    expect(page.get_by_text("Your unsaved work of")).to_be_hidden()


def test_what_is_kept_in_the_browser_names_nobody(designer: Designer, version: BriefVersion):
    """OWASP ASVS 5.0, 14.3.3: no personal data in browser storage."""
    designer.tablet.open(f"/briefs/{version.brief_id}/edit/")
    designer.page.get_by_label("Notes").fill("mind the corner")
    designer.settle()
    kept = designer.page.evaluate("JSON.stringify({...localStorage})")
    assert "mind the corner" in kept and "Ines" not in kept and "csrfmiddlewaretoken" not in kept


def test_what_is_wrong_is_said_in_the_cell_while_the_drawing_stays(designer: Designer, version: BriefVersion):
    designer.tablet.open(f"/briefs/{version.brief_id}/edit/")
    share = designer.panel().locator("[data-share]").first
    share.fill("90")
    expect(designer.panel()).to_contain_text("The shares add up to 90 %, not 100 %.")
    expect(designer.cell(INNER_TOP)).to_contain_text("needs correcting")
    expect(designer.page.locator(".map-picture svg").first).to_be_visible()
    expect(share).to_be_focused()
    share.fill("100")
    expect(designer.panel()).not_to_contain_text("The shares add up")


def test_a_check_is_silenced_with_a_note_and_stays_so(designer: Designer, version: BriefVersion):
    page = designer.page
    designer.tablet.open(f"/briefs/{version.brief_id}/edit/")
    designer.panel().locator("input").first.fill("12")
    finding = page.locator('[data-finding="corner_long"]').first
    finding.get_by_text("Let it stand").click()
    finding.get_by_label("Why it does not matter here").fill("wanted")
    expect(page.locator(".is-silenced input")).to_have_value("wanted")
    expect(page.locator(".is-silenced input")).to_be_focused()
    page.get_by_role("button", name="Save as a new version").click()
    page.wait_for_url(f"**/briefs/{version.brief_id}/")
    assert list(newest_version(version.brief).silenced.values()) == ["wanted"]


def test_separate_eyes_are_drawn_and_changed_apart_and_copied_across(
    designer: Designer, version: BriefVersion
):
    tablet, page = designer.tablet, designer.page
    tablet.open(f"/briefs/{version.brief_id}/edit/")
    tablet.tap(page.get_by_text("Each on its own"))
    expect(page.locator("[data-panel]")).to_have_count(16)
    page.locator('[data-eye="L"] [data-cell][data-zone="outer"][data-layer="top"]').dispatch_event("click")
    left = designer.panel("cell-left-outer-top")
    tablet.tap(left.get_by_role("button", name="1 mm longer").first)
    designer.settle()
    expect(designer.cell("cell-left-outer-top")).to_contain_text("11")
    expect(designer.cell("cell-right-outer-top")).to_contain_text("10")
    tablet.tap(left.get_by_role("button", name="other eye"))
    designer.settle()
    expect(designer.cell("cell-right-outer-top")).to_contain_text("11")


def test_without_a_connection_work_goes_on_and_is_told(designer: Designer, version: BriefVersion):
    designer.tablet.open(f"/briefs/{version.brief_id}/edit/")
    designer.page.context.set_offline(True)
    designer.tablet.tap(designer.panel().get_by_role("button", name="1 mm longer"))
    expect(designer.page.locator("[data-map-said]")).to_contain_text("No connection")
    designer.page.context.set_offline(False)
    designer.tablet.tap(designer.panel().get_by_role("button", name="1 mm longer"))
    expect(designer.cell(INNER_TOP)).to_contain_text("11")


@pytest.mark.browser_context_args(java_script_enabled=False)
def test_without_scripts_it_is_a_plain_form(designer: Designer):
    page = designer.page
    designer.tablet.open("/briefs/new/")
    page.get_by_label("Name").fill("Plain")
    page.get_by_label("Style", exact=False).first.fill("classic")
    page.get_by_label("Zones").select_option("3")
    page.get_by_role("button", name="Lay the cells out for this choice").click()
    page.locator('[name="cells/both/middle/top/lengths/0/length_mm"]').fill("10")
    page.locator('[name="minutes_0"]').fill("300")
    page.get_by_role("button", name="Save the brief").click()
    page.wait_for_url(SAVED)
    lash_map = BriefVersion.objects.get().lash_map
    assert lash_map.zones == ("inner", "middle", "outer")
    assert lash_map.cells["both", "middle", "top"].longest_mm == 10


@pytest.mark.parametrize("width", [320, PHONE, TABLET, DESKTOP])
@pytest.mark.parametrize("zones", ["4", "9"])
def test_every_target_is_big_enough_and_nobody_scrolls_sideways(
    designer: Designer, version: BriefVersion, width: int, zones: str
):
    """WCAG 2.2, success criteria 2.5.8 (targets of 24 px) and 1.4.10 (reflow at 320 px)."""
    set_width(designer.page, width)
    designer.tablet.open(f"/briefs/{version.brief_id}/edit/")
    designer.page.get_by_label("Zones").select_option(zones)
    expect(designer.page.locator("[data-panel]")).to_have_count(2 * int(zones))
    assert small_or_crowded(designer.page, size=24, gap=0) == []
    links = designer.page.locator("[data-grid] [data-choose]")
    for box in (links.nth(nth).bounding_box() for nth in range(links.count())):
        assert box and min(box["width"], box["height"]) >= 24
    assert sideways_overflow(designer.page) == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(
    designer: Designer,
    version: BriefVersion,
    axe: Callable[[Page], None],
    scheme: Literal["light", "dark"],
    console_errors: list[str],
):
    designer.page.emulate_media(color_scheme=scheme)
    designer.tablet.open(f"/briefs/{version.brief_id}/edit/")
    designer.panel().locator("[data-share]").first.fill("90")
    expect(designer.panel()).to_contain_text("The shares add up to 90 %")
    axe(designer.page)
    designer.page.locator("[data-share]").first.fill("100")
    designer.settle()
    axe(designer.page)
    assert console_errors == []
