"""Needs and plans in a browser: axe finds nothing, nobody scrolls sideways, a weak skill gets its place."""

from typing import Literal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from academy.models import Membership
from assessments.models import Need
from courses.models import Booking, ProposalLine, RotaProposal
from tests.factories.academy import Cast, make_cast, sign_in
from tests.factories.assessments import Bench, make_entry, make_graded_set
from tests.factories.courses import make_brief, make_head
from tests.factories.needs import make_need
from tests.factories.plans import make_plan
from tests.factories.rota import make_rota
from tests.factories.rubrics import starter_rubric
from tests.services.browser import PHONE, set_width, sideways_overflow

NARROW = 320  # WCAG 2.2, 1.4.10 Reflow


@pytest.fixture
def school(transactional_db: None) -> Cast:
    """Ada has failed a gate and is asked for a drill; a place and a computed plan could be had."""
    cast = make_cast()
    starter_rubric(cast.academy, cast.owner)
    bench = Bench(cast.ada, cast.ines, make_brief(cast.academy, cast.ines), make_head(cast.academy))
    make_graded_set(bench, entry=make_entry(levels={"isolation": 1}))
    make_rota(cast)
    make_need(cast.ada, cast.ines)
    return cast


def a_plan_of_everything(cast: Cast) -> RotaProposal:
    """One line of each kind, open, overtaken and without a place."""
    plan = make_plan(cast.ines)
    start = 29_550_000
    content = {"starts": start, "ends": start + 90, "reasons": ["The earliest still free."]}
    lines = [
        ("new", "open", content),
        ("moved", "open", {**content, "changed": ["time"], "was": [start + 1440, start + 1530]}),
        ("cancelled", "overtaken", {"was": [start, start + 90], "overtaken": "It has moved meanwhile."}),
        ("unchanged", "open", {"was": [start + 120, start + 210]}),
        ("unplaced", "open", {"remedies": ["If Ada Marsh could come on Tue 10 Mar, 10:00."]}),
    ]
    for position, (change, state, told) in enumerate(lines):
        ProposalLine.objects.create(
            proposal=plan,
            position=position,
            change=change,
            state=state,
            student=cast.ada,
            content=told,
            words="A line of the plan.",
        )
    return plan


def enter(page: Page, live_server, member: Membership) -> None:
    client = Client()
    sign_in(client, member)
    for name, cookie in client.cookies.items():
        page.context.add_cookies([{"name": name, "value": cookie.value, "url": live_server.url}])


def paths(cast: Cast) -> list[tuple[Membership, str]]:
    counted = Need.objects.get(kind="by_hand")
    plan, under_way = a_plan_of_everything(cast), make_plan(cast.ines, state="computing", progress=40)
    RotaProposal.objects.filter(pk=under_way.pk).update(made_at=timezone.now())
    return [
        (cast.owner, reverse("assessments:need-list")),
        (cast.owner, reverse("assessments:need-rules")),
        (cast.owner, reverse("assessments:student-needs", args=[cast.ada.pk])),
        (cast.ines, reverse("assessments:need-raise", args=[cast.ada.pk])),
        (cast.ines, reverse("assessments:need-count", args=[counted.pk])),
        (cast.ines, reverse("assessments:plan-list")),
        (cast.ines, reverse("assessments:plan", args=[plan.uid])),
        (cast.ines, reverse("assessments:plan", args=[under_way.uid])),
        (cast.ada, reverse("assessments:next")),
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


def test_from_a_need_to_a_place_that_is_accepted(page: Page, live_server, school: Cast):
    """Everything by what a person reads on the page."""
    enter(page, live_server, school.ines)
    page.goto(live_server.url + reverse("assessments:plan-list"))
    page.get_by_role("button", name="Compute the plan").click()
    expect(page.get_by_role("heading", name="What changes")).to_be_visible(timeout=60_000)
    page.get_by_role("button", name="Accept all").click()
    expect(page.get_by_text("accepted. Those concerned are told.")).to_be_visible()
    assert set(Booking.objects.values_list("state", "student")) == {("proposed", school.ada.pk)}
    enter(page, live_server, school.ada)
    page.goto(live_server.url + reverse("assessments:next"))
    expect(page.get_by_text("Proposed:").first).to_be_visible()
