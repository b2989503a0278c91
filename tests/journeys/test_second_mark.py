"""A blind second mark from the tablet: found on Today, inspected, signed, compared, talked about."""

from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from assessments.models import DiscussionNote, SecondGrade, SecondMark
from assessments.services.agreement import compute_agreement
from assessments.services.standard_sets import mark_standard_set
from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_graded_set
from tests.factories.bench import make_bench
from tests.factories.second_marks import (
    LATER,
    give_second_mark,
    inspect_second,
    second_result,
    standard_of,
)
from tests.journeys.tablet import Tablet, small_or_crowded
from tests.services.browser import DESKTOP, HEIGHTS, PHONE, TABLET, set_width, sideways_overflow

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.browser_context_args(has_touch=True, viewport={"width": TABLET, "height": HEIGHTS[TABLET]}),
]
WIDTHS = (PHONE, TABLET, DESKTOP)


@pytest.fixture
def second(bench: Bench, cast: Cast) -> SecondMark:
    return give_second_mark(make_graded_set(bench), cast.second)


@pytest.fixture
def tova(live_server, page: Page, cast: Cast) -> Tablet:
    tablet = Tablet(page, live_server.url)
    tablet.sign_in(cast.second)
    return tablet


def test_a_second_mark_from_today_to_the_talk(
    tova: Tablet, second: SecondMark, page: Page, console_errors: list[str]
):
    tova.open(reverse("assessments:today"))
    tova.tap(page.get_by_role("link", name="Inspect set 1, Ada Marsh"))
    expect(page.get_by_role("heading", name="You are marking this set blind")).to_be_visible()
    tova.tap(page.get_by_role("link", name="Inspect", exact=True))
    _find_one_fan_stuck(tova)
    expect(page.get_by_text("1 stuck of 40").first).to_be_visible()
    _write(page, "The first fan sticks when lifted from the side.")
    tova.tap(tova.button("Sign as Tova Lind"))

    expect(page.get_by_role("heading", name="Both results, set 1")).to_be_visible()
    expect(page.get_by_role("row", name="Isolation gate")).to_contain_text("1 level")
    page.get_by_label("What you agreed").fill("Lift from the side, always.")
    tova.tap(tova.button("Keep this note"))
    expect(page.get_by_role("listitem").filter(has_text="Lift from the side, always.")).to_be_visible()
    assert SecondGrade.objects.get().levels.get(criterion__code="isolation").level == 3
    assert DiscussionNote.objects.count() == 1
    assert console_errors == []


def _find_one_fan_stuck(tova: Tablet) -> None:
    tova.expect_position(1)
    tova.tap(tova.fault("STK"))
    tova.tap(tova.next)
    for number in range(2, 41):
        tova.expect_position(number)
        tova.tap(tova.button("Clean, next"))
    tova.expect_saved()
    tova.tap(tova.button("Close inspection"))
    tova.page.wait_for_url("**/marks/")


def _write(page: Page, note: str) -> None:
    """A judged level and a note, which a reload does not lose."""
    page.locator("#id_level_product_3").check()
    page.locator("#id_note").fill(note)
    expect(page.locator("[data-draft-words]")).to_contain_text("Saved")
    page.reload()
    expect(page.locator("#id_note")).to_have_value(note)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_of_it_can_be_used_by_everybody(
    tova: Tablet, second: SecondMark, cast: Cast, page: Page, axe: Callable[[Page], None], scheme
):
    page.emulate_media(color_scheme=scheme)
    for url in _pages(second, cast):
        tova.open(url)
        page.wait_for_load_state("networkidle")
        page.evaluate("for (const more of document.querySelectorAll('main details')) more.open = true")
        axe(page)
        for width in WIDTHS:
            set_width(page, width)
            assert sideways_overflow(page) == 0, (url, width)
        set_width(page, TABLET)


def _pages(second: SecondMark, cast: Cast) -> list[str]:
    """Waiting, at the bench, compared; the report; a standard set before and after one's own levels."""
    marked = second_result(make_graded_set(make_bench(cast, head="Head 3")), cast.second)
    inspected = inspect_second(
        give_second_mark(make_graded_set(make_bench(cast, cast.bea, head="Head 4")), cast.second)
    )
    compute_agreement(academy=cast.academy, until=LATER, seed=1, now=LATER)
    before = standard_of(make_graded_set(make_bench(cast, head="Head 5")), cast.owner, why="Bases")
    after = standard_of(make_graded_set(make_bench(cast, head="Head 6")), cast.owner)
    for who in (cast.ines, cast.second):
        mark_standard_set(actor=who, standard=after, levels={"wrap": 2, "product": 3}, now=LATER)
    return [
        reverse("assessments:second-mark", args=[second.uid]),
        reverse("assessments:second-inspect", args=[second.uid]),
        reverse("assessments:second-mark", args=[marked.second_mark.uid]),
        reverse("assessments:second-marks", args=[inspected.uid]),
        reverse("assessments:agreement"),
        reverse("assessments:standard-set", args=[before.uid]),
        reverse("assessments:standard-set", args=[after.uid]),
    ]


def test_targets_of_the_marks_page_are_large_enough_for_a_finger(
    tova: Tablet, second: SecondMark, page: Page
):
    inspect_second(second)
    tova.open(reverse("assessments:second-marks", args=[second.uid]))
    assert small_or_crowded(page) == []
