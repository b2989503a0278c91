"""Staff ask for the certificates of a cohort, see how far they are, and fetch them; nobody else does."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from assessments.models import CertificateBatch, Grade
from tests.factories.academy import Cast, make_cohort
from tests.factories.certificate_batches import finish_batch, make_batch
from tests.factories.certificates import make_certificate
from tests.factories.second_marks import give_second_mark

pytestmark = pytest.mark.django_db
LIST = reverse("assessments:certificate-batch-list")


def page(batch: CertificateBatch) -> str:
    return reverse("assessments:certificate-batch", args=[batch.uid])


def file(batch: CertificateBatch) -> str:
    return reverse("assessments:certificate-batch-file", args=[batch.uid])


def test_asking_leads_to_the_page_of_the_file_and_on_to_the_file(
    cast: Cast, client_for, django_capture_on_commit_callbacks
):
    make_certificate(cast.ada, cast.ines, at=timezone.now())
    client = client_for(cast.ines)
    assert "Spring evening: 1 certificate<" in client.get(LIST).content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(LIST, {"cohort": cast.cohort.pk, "kind": "pdf"})
    batch = CertificateBatch.objects.get()
    assert answer["Location"] == page(batch)
    text = client.get(page(batch)).content.decode()
    assert "The file is ready." in text and file(batch) in text and "batch.js" not in text
    assert "Spring evening, PDF" in client.get(LIST).content.decode()
    fetched = client.get(file(batch))
    assert fetched["Content-Type"] == "application/pdf"
    assert fetched["Content-Disposition"] == 'attachment; filename="Certificates of Spring evening.pdf"'
    assert b"".join(fetched.streaming_content).startswith(b"%PDF-")


def test_a_cohort_with_nothing_to_print_cannot_be_chosen(cast: Cast, client_for):
    make_certificate(cast.ada, cast.ines, at=timezone.now())
    empty = make_cohort(cast.academy, "Autumn")
    answer = client_for(cast.ines).post(LIST, {"cohort": empty.pk, "kind": "zip"})
    assert answer.status_code == 200 and "Choose from the list" in answer.content.decode()
    assert not CertificateBatch.objects.exists()


def test_without_any_certificate_the_page_says_what_is_missing(cast: Cast, client_for):
    assert "Nothing to print yet" in client_for(cast.ines).get(LIST).content.decode()


def test_the_page_counts_along_and_can_be_reloaded_by_hand(cast: Cast, client_for):
    batch = make_batch(cast.cohort, cast.ines)
    CertificateBatch.objects.update(done=7)
    text = client_for(cast.ines).get(page(batch)).content.decode()
    assert "7 of 20 certificates are drawn." in text
    assert 'max="20" value="7"' in text
    assert f'href="{page(batch)}">Reload</a>' in text and "certificates/batch.js" in text


def test_a_script_gets_the_same_as_json(cast: Cast, client_for):
    batch, client = make_batch(cast.cohort, cast.ines), client_for(cast.ines)
    answer = client.get(page(batch), headers={"Accept": "application/json"})
    assert answer.json() == {"state": "working", "words": "0 of 20 certificates are drawn.", "done": 0}
    assert "Accept" in answer["Vary"]
    CertificateBatch.objects.update(done=20)
    answer = client.get(page(batch), headers={"Accept": "application/json"})
    assert "being put into the file" in answer.json()["words"]


@pytest.mark.parametrize(
    ("days", "done", "heading"), [(8, True, "Removed"), (8, False, "Not written"), (1, False, "Not written")]
)
def test_what_is_gone_or_failed_can_be_asked_for_again(
    cast: Cast, client_for, days: int, done: bool, heading: str
):
    batch = make_batch(cast.cohort, cast.ines, at=timezone.now() - timedelta(days=days))
    if done:
        finish_batch(batch)
    client = client_for(cast.ines)
    text = client.get(page(batch)).content.decode()
    assert heading in text and "Ask for it again</a>" in text and file(batch) not in text
    assert client.get(file(batch)).status_code == 404


def test_a_file_that_is_not_written_yet_is_not_there(cast: Cast, client_for):
    batch = make_batch(cast.cohort, cast.ines)
    assert client_for(cast.ines).get(file(batch)).status_code == 404


def test_students_and_neighbours_get_no_file(cast: Cast, client_for, client):
    batch = finish_batch(make_batch(cast.cohort, cast.ines))
    assert client_for(cast.ada).get(file(batch)).status_code == 403
    assert client_for(cast.omar).get(file(batch)).status_code == 404
    assert client.get(file(batch)).status_code == 302


def test_who_marks_a_set_of_the_cohort_blind_gets_no_levels_of_it(cast: Cast, client_for):
    """A printed certificate shows levels that rest on the first marks."""
    made = make_certificate(cast.ada, cast.ines, at=timezone.now())
    give_second_mark(Grade.objects.get(practice_set__student=made.student), cast.second)
    batch = finish_batch(make_batch(cast.cohort, cast.ines))
    asked = client_for(cast.second).post(LIST, {"cohort": cast.cohort.pk, "kind": "pdf"})
    assert "You are marking this set blind" in asked.content.decode()
    fetched = client_for(cast.second).get(file(batch))
    assert not fetched.streaming and b"%PDF" not in fetched.content
    assert client_for(cast.owner).get(file(batch)).status_code == 200


def test_no_address_leads_to_the_stored_file(cast: Cast, client_for):
    batch = finish_batch(make_batch(cast.cohort, cast.ines))
    client = client_for(cast.owner)
    for path in (f"/{batch.file.name}", f"/media/{batch.file.name}", f"/static/{batch.file.name}"):
        assert client.get(path).status_code == 404
