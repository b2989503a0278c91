"""An educator asks for a cohort's certificates, watches them being drawn, and fetches the file."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from assessments.models import CertificateBatch
from tests.factories.academy import Cast
from tests.factories.certificate_batches import finish_batch, make_batch
from tests.factories.certificates import make_certificate
from tests.journeys.tablet import Tablet
from tests.services.browser import DESKTOP, PHONE, TABLET, set_width, sideways_overflow

LIST = reverse("assessments:certificate-batch-list")


@pytest.fixture
def educator(live_server, page: Page, cast: Cast) -> Tablet:
    tablet = Tablet(page, live_server.url)
    tablet.sign_in(cast.ines)
    return tablet


def page_of(batch: CertificateBatch) -> str:
    return reverse("assessments:certificate-batch", args=[batch.uid])


def test_the_file_is_asked_for_and_fetched(educator: Tablet, live_server, page: Page, cast: Cast, axe):
    make_certificate(cast.ada, cast.ines, at=timezone.now())
    page.goto(live_server.url + reverse("assessments:certificate-list"))
    page.get_by_role("link", name="Print a cohort").click()
    axe(page)
    page.get_by_label("One PDF to print").check()
    page.get_by_role("button", name="Write the file").click()
    expect(page.get_by_role("heading", name="Ready")).to_be_visible()
    axe(page)
    with page.expect_download() as fetched:
        page.get_by_role("link", name="Download the PDF").click()
    assert fetched.value.suggested_filename == "Certificates of Spring evening.pdf"
    assert fetched.value.path().read_bytes().startswith(b"%PDF-")


def test_the_page_counts_along_and_turns_when_the_file_is_there(
    educator: Tablet, live_server, page: Page, cast: Cast, axe, console_errors: list[str]
):
    batch = make_batch(cast.cohort, cast.ines)
    page.goto(live_server.url + page_of(batch))
    expect(page.locator("#batch-words")).to_have_text("0 of 20 certificates are drawn.")
    axe(page)
    CertificateBatch.objects.update(done=13)
    expect(page.locator("#batch-words")).to_have_text("13 of 20 certificates are drawn.")
    expect(page.locator("#batch-progress")).to_have_attribute("value", "13")
    finish_batch(batch)
    expect(page.get_by_role("link", name="Download the PDF")).to_be_visible()
    assert console_errors == []


@pytest.mark.parametrize("width", [320, PHONE, TABLET, DESKTOP])
def test_both_pages_fit_every_screen(educator: Tablet, live_server, page: Page, cast: Cast, width: int):
    make_certificate(cast.ada, cast.ines, at=timezone.now())
    finish_batch(make_batch(cast.cohort, cast.ines))
    batch = make_batch(cast.cohort, cast.ines, kind="zip", at=timezone.now() - timedelta(seconds=9))
    set_width(page, width)
    for address in (LIST, page_of(batch)):
        page.goto(live_server.url + address)
        assert sideways_overflow(page) == 0
