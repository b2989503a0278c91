"""The certificates of a cohort become one file, once, and the file goes when its days are over."""

from datetime import datetime, timedelta
from io import BytesIO
from zipfile import ZipFile

import pytest
from django.core.files.storage import default_storage

from academy.models import AuditEntry, Cohort
from assessments.credentials.uploads import token_in
from assessments.documents import certificate_pdf, certificates_pdf
from assessments.models import Certificate, CertificateBatch
from assessments.services import certificate_batches as services
from assessments.services.certificate_batches import (
    NothingToPrint,
    ask_for_batch,
    remove_old_batches,
    write_batch,
)
from assessments.services.certificates import revoke_certificate
from assessments.tasks import remove_old_certificate_batches, write_certificate_batch
from tests.factories.academy import Cast
from tests.factories.certificate_batches import finish_batch, make_batch
from tests.factories.certificates import ISSUED, make_certificate

pytestmark = pytest.mark.django_db
NOW = ISSUED + timedelta(days=1)


@pytest.fixture
def certified(cast: Cast) -> list[Certificate]:
    """Ada's and Bea's, both of the same cohort; in the order of their names."""
    return [make_certificate(student, cast.ines) for student in (cast.ada, cast.bea)]


def asked(cast: Cast, kind: str = "pdf", at: datetime = NOW) -> CertificateBatch:
    return ask_for_batch(cohort=cast.cohort, kind=kind, actor=cast.ines, now=at)


def written(batch: CertificateBatch) -> CertificateBatch:
    write_batch(batch=batch, now=NOW)
    batch.refresh_from_db()
    return batch


def content(batch: CertificateBatch) -> bytes:
    with batch.file.open("rb") as file:
        return bytes(file.read())


def test_one_file_to_print_holds_every_certificate_in_force(cast: Cast, certified: list[Certificate]):
    batch = written(asked(cast))
    assert (batch.total, batch.done, batch.finished_at) == (2, 2, NOW)
    assert content(batch) == certificates_pdf(certified, title="Certificates of Spring evening")


def test_a_zip_holds_each_with_its_signed_form(cast: Cast, certified: list[Certificate]):
    with ZipFile(BytesIO(content(written(asked(cast, "zip"))))) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == ["Certificate 1, Ada Marsh.pdf", "Certificate 2, Bea Holm.pdf"]
        files = [archive.read(name) for name in archive.namelist()]
    assert files == [certificate_pdf(row) for row in certified]
    assert [token_in(file) for file in files] == [row.token for row in certified]


def test_a_zip_of_the_same_certificates_has_the_same_bytes(cast: Cast, certified: list[Certificate]):
    first = content(written(asked(cast, "zip")))
    assert content(written(asked(cast, "zip", NOW + timedelta(days=3)))) == first


def test_what_was_revoked_is_not_printed(cast: Cast, certified: list[Certificate]):
    revoke_certificate(certificate=certified[0], reason="Invented for a test", actor=cast.owner, now=NOW)
    batch = written(asked(cast))
    assert batch.total == 1
    assert content(batch) == certificates_pdf(certified[1:], title="Certificates of Spring evening")


def test_nothing_in_force_is_said_beside_the_cohort(cast: Cast):
    with pytest.raises(NothingToPrint, match="No certificate of Spring evening is in force now") as refused:
        asked(cast)
    assert refused.value.details["field"] == "cohort"
    assert not CertificateBatch.objects.exists()


def test_asking_again_while_it_is_written_gives_the_same_file(cast: Cast, certified: list[Certificate]):
    first = asked(cast)
    assert asked(cast, at=NOW + timedelta(minutes=2)) == first
    assert asked(cast, "zip") != first
    written(first)
    assert asked(cast, at=NOW + timedelta(minutes=3)) != first


def test_one_that_nobody_writes_can_be_asked_for_again(cast: Cast, certified: list[Certificate]):
    assert asked(cast) != asked(cast, at=NOW + CertificateBatch.STALLED)


def test_asking_leaves_an_audit_entry_without_names(cast: Cast, certified: list[Certificate]):
    batch = asked(cast)
    entry = AuditEntry.objects.get(action="ask_for_batch")
    assert (entry.object_id, entry.after) == (str(batch.pk), {"kind": "pdf", "certificates": 2})


def test_the_task_runs_after_the_transaction_and_twice_is_as_once(
    cast: Cast, certified: list[Certificate], django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        batch = asked(cast)
        assert not batch.file
    batch.refresh_from_db()
    name, before = batch.file.name, content(batch)
    write_certificate_batch(batch_id=batch.pk)
    batch.refresh_from_db()
    assert (batch.file.name, content(batch)) == (name, before)


def test_a_second_worker_drops_what_it_wrote(cast: Cast, certified: list[Certificate]):
    batch = asked(cast)
    late = CertificateBatch.objects.get(pk=batch.pk)
    name = str(written(batch).file.name)
    write_batch(batch=late, now=NOW + timedelta(minutes=1))
    batch.refresh_from_db()
    assert (batch.file.name, batch.finished_at) == (name, NOW)
    assert default_storage.listdir("certificate-batches")[1].count(name.rpartition("/")[2]) == 1


def test_how_far_it_is_can_be_read_while_it_is_written(cast: Cast, certified: list[Certificate], monkeypatch):
    monkeypatch.setattr(services, "TOLD_EVERY", 1)
    batch, seen = asked(cast), []
    for _ in services._telling(batch, certified):
        seen.append(CertificateBatch.objects.get(pk=batch.pk).done)
    assert seen == [0, 1] and CertificateBatch.objects.get(pk=batch.pk).done == 2


def test_a_failure_is_kept_and_can_be_asked_for_again(cast: Cast, certified: list[Certificate], monkeypatch):
    def broken(*args, **kwargs):
        raise OSError("no space left")

    batch = asked(cast)
    with monkeypatch.context() as patched:
        patched.setattr(services, "certificates_pdf", broken)
        with pytest.raises(OSError, match="no space left"):
            write_batch(batch=batch, now=NOW)
    batch.refresh_from_db()
    assert batch.has_failed and not batch.is_under_way(NOW)
    again = written(asked(cast))
    assert again != batch and again.is_ready(NOW)


def test_files_go_when_their_days_are_over_and_only_those(cast: Cast):
    old = finish_batch(make_batch(cast.cohort, cast.ines, at=NOW - timedelta(days=7)))
    young = finish_batch(make_batch(cast.cohort, cast.ines, at=NOW - timedelta(days=6, hours=23)))
    name = str(old.file.name)
    assert remove_old_batches(now=NOW) == 1
    assert not default_storage.exists(name) and default_storage.exists(str(young.file.name))
    old.refresh_from_db()
    assert old.file == "" and old.is_gone(NOW)
    assert remove_old_batches(now=NOW) == 0


def test_the_nightly_task_takes_them_away(cast: Cast):
    batch = finish_batch(make_batch(cast.cohort, cast.ines, at=NOW))
    remove_old_certificate_batches()
    batch.refresh_from_db()
    assert batch.file == ""


def test_a_file_is_not_handed_out_after_its_days_even_if_nobody_removed_it(cast: Cast):
    batch = finish_batch(make_batch(cast.cohort, cast.ines, at=NOW))
    assert batch.is_ready(NOW + timedelta(days=6))
    assert not batch.is_ready(NOW + timedelta(days=7)) and batch.is_gone(NOW + timedelta(days=7))


def test_another_cohort_has_a_file_of_its_own(cast: Cast, certified: list[Certificate]):
    other = Cohort.objects.create(academy=cast.academy, name="Autumn", starts_on=NOW.date())
    with pytest.raises(NothingToPrint):
        ask_for_batch(cohort=other, kind="pdf", actor=cast.ines, now=NOW)
