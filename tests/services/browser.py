"""Chromium for the tests: where it is found, how it is started, how wide its window is, what axe says."""

import os
import shutil
from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

PHONE, TABLET, DESKTOP = 390, 820, 1280
HEIGHTS = {PHONE: 844, TABLET: 1180, DESKTOP: 800}
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-dev-shm-usage",
]
AXE_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    return {**browser_type_launch_args, "executable_path": chromium(), "args": FLAGS}


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    window = {"width": DESKTOP, "height": HEIGHTS[DESKTOP]}
    calm = {"reduced_motion": "reduce", "locale": "en-GB", "timezone_id": "UTC"}
    return {**browser_context_args, **calm, "viewport": window}


def chromium() -> str:
    """Path of the browser; a test that needs one fails when there is none."""
    path = os.environ.get("BROWSER_BIN") or shutil.which("chromium") or shutil.which("chromium-browser")
    if not path:
        pytest.fail("No Chromium: run `apt-get install chromium`, or set BROWSER_BIN to its path.")
    return path


def set_width(page: Page, width: int) -> None:
    """Make the window as wide as a phone, a tablet or a desktop (PHONE, TABLET, DESKTOP) or any width."""
    page.set_viewport_size({"width": width, "height": HEIGHTS.get(width, 900)})


def sideways_overflow(page: Page) -> int:
    """Pixels by which the page is wider than its window; 0 when nobody has to scroll sideways."""
    overflow: int = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return overflow


@pytest.fixture
def console_errors(page: Page) -> list[str]:
    """Errors the browser reports from now on: failed scripts, blocked styles, missing files."""
    errors: list[str] = []
    page.on("console", lambda message: errors.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: errors.append(str(error)))
    return errors


@pytest.fixture
def axe() -> Callable[[Page], None]:
    """Call it with a page: it fails the test with a list of what axe finds wrong there."""

    def check(page: Page) -> None:
        options = {"runOnly": {"type": "tag", "values": AXE_RULES}, "resultTypes": ["violations"]}
        results = Axe().run(page, options=options)
        if results.violations_count:
            pytest.fail(f"{page.url}\n{results.generate_report()}", pytrace=False)

    return check
