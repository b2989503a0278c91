"""The marks page: saved as one goes, two versions side by side, a reason for each correction, no scripts."""

import re
from typing import Literal

import pytest
from playwright.sync_api import Page, expect

from assessments.models import Grade, PracticeSet
from tests.factories.assessments import Bench, make_graded_set, make_inspected_set
from tests.journeys.tablet import Tablet, small_or_crowded
from tests.services.browser import DESKTOP, HEIGHTS, PHONE, TABLET, set_width, sideways_overflow

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.browser_context_args(has_touch=True, viewport={"width": TABLET, "height": HEIGHTS[TABLET]}),
]
SAVED = re.compile(r"Saved \d\d:\d\d")


@pytest.fixture
def practice_set(bench: Bench) -> PracticeSet:
    """Inspected, with nothing found."""
    return make_inspected_set(bench)


@pytest.mark.browser_context_args(java_script_enabled=False)
def test_a_set_is_marked_without_scripts(tablet: Tablet, practice_set: PracticeSet):
    page = tablet.page
    tablet.open_set(practice_set, "marks/")
    for line in page.locator("[name=lines_done]").all():
        line.check()
    page.get_by_label("Fans placed, right eye").fill("80")
    page.get_by_label("Fans placed, left eye").fill("80")
    page.locator("[name=level_product][value='3']").check(force=True)
    page.locator("[name=level_layers][value='3']").check(force=True)
    tablet.button("Sign as Ines Carvalho").click()
    page.wait_for_url("**/sets/*/")
    assert Grade.objects.get().practice_set == practice_set


def test_a_correction_needs_its_reason_and_keeps_what_was_typed(tablet: Tablet, bench: Bench):
    grade = make_graded_set(bench)
    page = tablet.page
    tablet.open(f"/sets/{grade.practice_set.uid}/correct/")
    page.get_by_label("Note to the student").fill("Read again with the lamp on.")
    tablet.tap(tablet.button("Sign the correction as Ines Carvalho"))
    expect(page.get_by_role("alert")).to_contain_text("Say why the signed marks are corrected.")
    expect(page.get_by_label("Note to the student")).to_have_value("Read again with the lamp on.")
    page.get_by_label("Why the signed marks are corrected").fill("The lamp was off at first.")
    tablet.tap(tablet.button("Sign the correction as Ines Carvalho"))
    page.wait_for_url("**/sets/*/")
    assert list(Grade.objects.values_list("revision", flat=True)) == [2, 1]


def test_a_correction_typed_and_not_signed_is_there_after_a_reload(tablet: Tablet, bench: Bench):
    grade = make_graded_set(bench)
    page = tablet.page
    tablet.open(f"/sets/{grade.practice_set.uid}/correct/")
    page.get_by_label("Note to the student").fill("Read again with the lamp on.")
    page.get_by_label("Why the signed marks are corrected").fill("The lamp was")
    expect(page.locator("[data-draft-words]")).to_have_text(SAVED)
    page.reload()
    expect(page.get_by_label("Note to the student")).to_have_value("Read again with the lamp on.")
    expect(page.get_by_label("Why the signed marks are corrected")).to_have_value("The lamp was")
    page.get_by_label("Why the signed marks are corrected").fill("The lamp was off.")
    tablet.tap(tablet.button("Sign the correction as Ines Carvalho"))
    page.wait_for_url(re.compile("/sets/[^/]+/$"))
    assert list(Grade.objects.values_list("revision", "note")) == [
        (2, "Read again with the lamp on."),
        (1, ""),
    ]


def test_two_people_marking_the_same_set_choose_between_both_versions(
    tablet: Tablet, practice_set: PracticeSet, cast, live_server, new_context
):
    hers: Page = new_context().new_page()
    other = Tablet(hers, live_server.url)
    other.sign_in(cast.second)
    tablet.open_set(practice_set, "marks/")
    other.open_set(practice_set, "marks/")
    hers.get_by_label("Note to the student").fill("Tova's words")
    expect(hers.locator("[data-draft-words]")).to_have_text(SAVED)
    tablet.page.get_by_label("Note to the student").fill("Ines's words")
    choice = tablet.page.get_by_role("alert").filter(has_text="Two versions")
    expect(choice.get_by_role("row", name="Note")).to_contain_text("Ines's words")
    expect(choice.get_by_role("row", name="Note")).to_contain_text("Tova's words")
    tablet.tap(choice.get_by_role("button", name="Take those of Tova Lind"))
    expect(tablet.page.get_by_label("Note to the student")).to_have_value("Tova's words")
    expect(tablet.page.locator("[data-draft-words]")).to_have_text(SAVED)


def test_marks_typed_and_not_signed_are_there_after_a_reload(tablet: Tablet, practice_set: PracticeSet):
    page = tablet.page
    tablet.open_set(practice_set, "marks/")
    isolation = page.get_by_role("group", name="Isolation")
    tablet.tap(isolation.locator(".bench-level").nth(1))
    isolation.get_by_label("Why this level?").fill("two more beside the sample")
    expect(page.locator("[data-draft-words]")).to_have_text(SAVED)
    expect(page.locator('[data-gate="isolation"]')).to_contain_text("held")
    page.reload()
    expect(isolation.get_by_role("radio", name="1")).to_be_checked()
    expect(isolation.get_by_label("Why this level?")).to_have_value("two more beside the sample")


def test_a_draft_waits_for_the_connection_and_is_saved_then(tablet: Tablet, practice_set: PracticeSet):
    page = tablet.page
    tablet.open_set(practice_set, "marks/")
    page.context.set_offline(True)
    page.get_by_label("Note to the student").fill("Written in the cellar.")
    expect(page.locator("[data-draft-words]")).to_contain_text("no connection")
    page.context.set_offline(False)
    expect(page.locator("[data-draft-words]")).to_have_text(SAVED)
    practice_set.refresh_from_db()
    assert practice_set.draft.data["note"] == "Written in the cellar."


def test_a_level_other_than_proposed_is_not_signed_without_its_reason(
    tablet: Tablet, practice_set: PracticeSet
):
    tablet.open_set(practice_set, "marks/")
    isolation = tablet.page.get_by_role("group", name="Isolation")
    why = isolation.get_by_label("Why this level?")
    expect(why).to_be_hidden()
    tablet.tap(isolation.locator(".bench-level").nth(2))
    expect(why).to_be_visible()
    tablet.tap(tablet.button("Sign as Ines Carvalho"))
    assert Grade.objects.count() == 0
    tablet.tap(isolation.locator(".bench-level").nth(4))  # what was proposed
    expect(why).to_be_hidden()


def test_counting_the_fans_proposes_the_symmetry_mark_at_once(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "marks/")
    page = tablet.page
    symmetry = page.get_by_role("group", name="Left and right")
    expect(symmetry.locator("input:checked")).to_have_count(0)
    page.get_by_label("Fans placed, right eye").fill("80")
    page.get_by_label("Fans placed, left eye").fill("70")
    # 10 of 80 fewer is 12.5 %: level 2 on the starter rubric, 10 to 19 % apart.
    expect(symmetry.get_by_role("radio", name="2")).to_be_checked()
    expect(symmetry).to_contain_text("12.5 %")


def test_a_note_too_long_is_counted_and_kept(tablet: Tablet, practice_set: PracticeSet):
    tablet.open_set(practice_set, "marks/")
    note = tablet.page.get_by_label("Note to the student")
    note.fill("x" * 2003)
    expect(tablet.page.locator("[data-note-count]")).to_have_text("3 characters too many")
    expect(tablet.page.locator("[data-draft-words]")).to_contain_text("2003 characters")
    expect(note).to_have_value("x" * 2003)


@pytest.mark.parametrize("width", [PHONE, TABLET, DESKTOP])
def test_every_target_is_48_pixels_with_8_between(tablet: Tablet, practice_set: PracticeSet, width: int):
    set_width(tablet.page, width)
    tablet.open_set(practice_set, "marks/")
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
    tablet.open_set(practice_set, "marks/")
    axe(tablet.page)
    set_width(tablet.page, 320)
    assert sideways_overflow(tablet.page) == 0
    assert console_errors == []
