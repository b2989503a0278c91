"""Photographs the demo academy, page by page, as each role sees it. Run by ``make screenshots``."""

import contextlib
import os
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urljoin

import django
from playwright.sync_api import BrowserContext, Page, ViewportSize, sync_playwright

from tests.services.browser import DESKTOP, FLAGS, HEIGHTS, PHONE, TABLET, chromium
from tests.services.servers import free_port

ROOT = Path(__file__).resolve().parent.parent.parent
DATA = ROOT / ".test" / "screenshots"
PICTURES = ROOT / ".screenshots"
WIDTHS = {"owner": DESKTOP, "educator": TABLET, "student": PHONE}


def main() -> None:
    for folder in (DATA, PICTURES):
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
    sessions = _seed()
    with _served() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        for role, (name, value) in sessions.items():
            for scheme in ("light", "dark"):
                size = ViewportSize(width=WIDTHS[role], height=HEIGHTS[WIDTHS[role]])
                context = browser.new_context(viewport=size, color_scheme=scheme, reduced_motion="reduce")
                context.add_cookies([{"name": name, "value": value, "url": address}])
                _photograph(context, address, f"{role}-{scheme}")
        browser.close()
    sys.stdout.write(f"{len(list(PICTURES.iterdir()))} pictures in {PICTURES.relative_to(ROOT)}/\n")


def _seed() -> dict[str, tuple[str, str]]:
    """Fill a demo academy of our own and sign in one person of each role; return the cookies."""
    settings = {
        "FANLIGHT_DEMO": "1",
        "FANLIGHT_DATA_DIR": str(DATA),
        "REDIS_URL": "",
        "FANLIGHT_LOG_LEVEL": "WARNING",
    }
    os.environ.update(settings, DJANGO_SETTINGS_MODULE="academy.settings")
    os.environ.pop("DATABASE_URL", None)
    django.setup()
    from django.conf import settings as configured
    from django.core.management import call_command
    from django.test import Client

    from academy.models import Membership
    from tests.factories.academy import sign_in

    call_command("migrate", verbosity=0)
    call_command("seed_demo")
    call_command("collectstatic", interactive=False, verbosity=0)
    sessions = {}
    for role in WIDTHS:
        client = Client()
        sign_in(client, Membership.objects.filter(role=role).order_by("pk")[0])
        name = configured.SESSION_COOKIE_NAME
        sessions[role] = (name, client.cookies[name].value)
    return sessions


@contextlib.contextmanager
def _served() -> Iterator[str]:
    address = f"127.0.0.1:{free_port()}"
    command = [sys.executable, "-m", "gunicorn", "academy.wsgi", "--bind", address, "--log-level", "warning"]
    server = subprocess.Popen([*command, "--threads", "4"], cwd=ROOT)
    try:
        for _ in range(100):
            with contextlib.suppress(OSError):
                urllib.request.urlopen(f"http://{address}/account/login/", timeout=5)
                break
            time.sleep(0.1)
        yield f"http://{address}"
    finally:
        server.terminate()
        server.wait()


def _photograph(context: BrowserContext, address: str, prefix: str) -> None:
    """The first page, every page of the navigation, and the first page each of them leads to."""
    page = context.new_page()
    _open(page, address)
    for number, link in enumerate([page.url, *_links(page, "nav a[href]")]):
        _open(page, link)
        _keep(page, f"{prefix}-{number:02}")
        deeper = [other for other in _links(page, "main a[href]") if _is_page(page, other)]
        if deeper:
            _open(page, deeper[0])
            _keep(page, f"{prefix}-{number:02}-first")
    context.close()


def _open(page: Page, link: str) -> None:
    answer = page.goto(link)
    if answer is None or not answer.ok:
        raise SystemExit(f"{link} answered {answer and answer.status}: there is nothing to photograph.")


def _links(page: Page, selector: str) -> list[str]:
    """Addresses on our own host, in order, each once, the present page left out."""
    found = [link.get_attribute("href") or "" for link in page.locator(selector).all()]
    whole = [urljoin(page.url, href).split("#")[0] for href in found]
    return [
        link for link in dict.fromkeys(whole) if link.startswith(urljoin(page.url, "/")) and link != page.url
    ]


def _is_page(page: Page, link: str) -> bool:
    return page.request.get(link).headers.get("content-type", "").startswith("text/html")


def _keep(page: Page, name: str) -> None:
    page.screenshot(path=PICTURES / f"{name}.png", full_page=True)


if __name__ == "__main__":
    main()
