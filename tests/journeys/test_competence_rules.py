"""An owner tries out a rule in a browser, saves it, and reads on a student's page what it decides."""

import re
from typing import Literal

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from assessments.models import CompetenceRule
from tests.factories.academy import Cast
from tests.factories.assessments import Bench
from tests.factories.competence import passes_in_a_row, set_rule, sets_at
from tests.journeys.tablet import Tablet
from tests.services.browser import DESKTOP, PHONE, TABLET, set_width, sideways_overflow

RULES = reverse("assessments:competence-rules")
RULE = reverse("assessments:competence-rule", args=["isolation"])
MASTERY = reverse("assessments:competence-mastery")


@pytest.fixture
def owner(live_server, page: Page, bench: Bench, cast: Cast) -> Tablet:
    tablet = Tablet(page, live_server.url)
    tablet.sign_in(cast.owner)
    return tablet


def test_the_picture_follows_what_the_owner_chooses(
    owner: Tablet, live_server, page: Page, console_errors: list[str]
):
    page.goto(live_server.url + RULES)
    page.get_by_role("link", name=re.compile("Isolation: Short course")).click()
    meaning = page.locator(".rule-meaning")
    expect(meaning).to_contain_text("who fails 50 % of sets is declared competent 6.5 % of the time")
    expect(page.get_by_label("Kind of rule")).to_be_hidden()
    page.get_by_label("Long course").check()
    expect(meaning).to_contain_text("Within 40 sets, a student who fails 30 % of sets")
    assert console_errors == []


def test_the_owner_tries_rates_of_her_own_and_saves_them(owner: Tablet, live_server, page: Page):
    page.goto(live_server.url + RULE)
    page.get_by_text("The numbers").click()
    page.get_by_label("Own rates").check()
    page.get_by_label("Kind of rule").select_option(label="Passes in a row")
    expect(page.get_by_label("Risk to declare one who is not ready, %").first).to_be_hidden()
    page.get_by_label("Passes in a row", exact=True).fill("5")
    # Runs of five in 20 fair tosses: 25.0 % (pentanacci numbers; Feller, An Introduction, XIII.7)
    expect(page.locator(".rule-meaning")).to_contain_text("declared competent 25 % of the time")
    expect(page.locator("#rule-picture details")).to_have_attribute("open", "")

    page.get_by_label("A student is ready who fails at most, %").fill("60")
    expect(page.locator("#rule-picture")).to_contain_text("the acceptable one lower")
    page.get_by_label("A student is ready who fails at most, %").fill("10")
    expect(page.locator(".rule-meaning")).to_contain_text("declared competent 25 % of the time")
    page.get_by_role("button", name="Save the rule").click()
    expect(page.get_by_text("Isolation: version 2 is in force.")).to_be_visible()
    assert CompetenceRule.objects.get(number=2).programme["rule"]["length"] == 5


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_nobody_scrolls_sideways(
    owner: Tablet, live_server, page: Page, bench: Bench, cast: Cast, axe, scheme: Literal["light", "dark"]
):
    set_rule(cast.owner, passes_in_a_row(2))
    sets_at(bench, [3, 1, 3, 3])
    page.emulate_media(color_scheme=scheme)
    student = reverse("assessments:student", args=[cast.ada.pk])
    for path in (RULES, RULE, MASTERY, student, reverse("assessments:student-list")):
        page.goto(live_server.url + path)
        page.evaluate("document.querySelectorAll('main details').forEach((each) => { each.open = true; })")
        axe(page)
        for width in (320, PHONE, TABLET, DESKTOP):
            set_width(page, width)
            assert sideways_overflow(page) == 0, (path, width)


def test_without_a_script_the_picture_comes_by_submit(
    browser, browser_context_args, live_server, bench: Bench, cast: Cast
):
    context = browser.new_context(**{**browser_context_args, "java_script_enabled": False})
    page = context.new_page()
    tablet = Tablet(page, live_server.url)
    tablet.sign_in(cast.owner)
    page.goto(live_server.url + RULE)
    page.get_by_label("Long course").check()
    page.get_by_role("button", name="Show the picture").click()
    expect(page.locator(".rule-meaning")).to_contain_text("Within 40 sets")
    expect(page.get_by_label("Long course")).to_be_checked()
    context.close()


def test_a_student_reads_on_her_phone_how_it_is_decided(
    owner: Tablet, live_server, page: Page, bench: Bench, cast: Cast
):
    set_rule(cast.owner, passes_in_a_row(2))
    sets_at(bench, [3, 3])
    Tablet(page, live_server.url).sign_in(cast.ada)
    set_width(page, PHONE)
    page.goto(live_server.url + reverse("assessments:stand"))
    card = page.locator(".competences > li").filter(has_text="Isolation").first
    expect(card).to_contain_text("competent")
    card.get_by_text("How this is decided").click()
    expect(card).to_contain_text("Later sets are watched with a running tally")
