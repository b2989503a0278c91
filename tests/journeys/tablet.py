"""A tablet at the bench: a signed-in browser worked by finger, which counts its taps."""

from dataclasses import dataclass, field

from django.conf import settings
from django.test import Client
from playwright.sync_api import Locator, Page, expect

from academy.models import Membership
from assessments.models import PracticeSet
from tests.factories.academy import sign_in

TAP_GAP_MS = 120  # people tap more slowly; two contacts closer than this count as one bounced tap

DOUBLE_TAP_MS = 450


@dataclass
class Tablet:
    page: Page
    site: str
    taps: int = field(default=0)

    def sign_in(self, member: Membership) -> None:
        client = Client()
        sign_in(client, member)
        cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
        self.page.context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": self.site}]
        )

    def open(self, path: str) -> None:
        self.page.goto(f"{self.site}{path}")

    def open_set(self, practice_set: PracticeSet, step: str = "") -> None:
        self.open(f"/bench/{practice_set.uid}/{step}")

    def tap(self, target: Locator) -> None:
        target.tap()
        self.taps += 1
        self.page.wait_for_timeout(TAP_GAP_MS)

    def breathe(self) -> None:
        """Long enough that the next tap is not taken for the second contact of a double tap."""
        self.page.wait_for_timeout(DOUBLE_TAP_MS)

    def button(self, name: str) -> Locator:
        return self.page.get_by_role("button", name=name, exact=True)

    @property
    def next(self) -> Locator:
        return self.page.locator("[data-next]")

    def fault(self, code: str) -> Locator:
        return self.page.locator(f'[data-fault="{code}"]')

    def expect_position(self, number: int, of: int = 40) -> None:
        expect(self.page.locator("[data-count]")).to_have_text(f"{number} of {of}")

    def expect_saved(self) -> None:
        expect(self.page.locator("[data-sync-words]")).to_have_text("All saved")


def small_or_crowded(page: Page, *, size: int = 48, gap: int = 8) -> list[str]:
    """Visible targets under ``size`` px, and neighbours closer than ``gap`` px, in words."""
    problems: list[str] = page.evaluate(MEASURE, {"size": size, "gap": gap})
    return problems


# A radio or tick inside a label is worked through the label, so the label is the target.
MEASURE = """({ size, gap }) => {
  const selector = "main :is(button, summary, label:has(input), .button, .bench-leave)";
  const targets = [...document.querySelectorAll(selector)]
    .filter((target) => target.checkVisibility() && target.getBoundingClientRect().width > 1);
  const boxes = targets.map((target) => (
    { name: target.textContent.trim().replace(/\\s+/g, " "), box: target.getBoundingClientRect() }));
  const small = boxes
    .filter(({ box }) => box.width < size - 0.5 || box.height < size - 0.5)
    .map(({ name, box }) => `${name}: ${Math.round(box.width)} x ${Math.round(box.height)}`);
  const apart = (one, other) => Math.max(
    Math.max(one.left, other.left) - Math.min(one.right, other.right),
    Math.max(one.top, other.top) - Math.min(one.bottom, other.bottom));
  const isBar = (index) => targets[index].closest(".bench-actions, .bench-marks-side");
  const crowded = boxes.flatMap(({ name, box }, index) => boxes.slice(index + 1)
    .filter((other, later) => !isBar(index) === !isBar(index + 1 + later))
    .filter((other) => apart(box, other.box) < gap - 0.5)
    .map((other) => `${name} | ${other.name}: ${apart(box, other.box).toFixed(1)} apart`));
  return [...small, ...crowded];
}"""
