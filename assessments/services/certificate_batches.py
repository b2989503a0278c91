"""The certificates of a cohort as one file: asked for, written in the background, removed after some days."""

import logging
from collections.abc import Iterable, Iterator
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models import QuerySet

from academy.errors import DomainError
from academy.jobs import enqueue
from academy.models import Cohort, Membership
from academy.services.audit import record
from assessments.documents import certificates_pdf, certificates_zip
from assessments.models import Certificate, CertificateBatch
from assessments.selectors.certificate_batches import (
    batch_under_way,
    certificates_to_print,
    refuse_blind,
)

TOLD_EVERY = 10  # certificates between two notes of how far it is

log = logging.getLogger(__name__)


class NothingToPrint(DomainError):
    def __init__(self, cohort: Cohort) -> None:
        super().__init__(
            "nothing_to_print",
            f"No certificate of {cohort.name} is in force now. Issue one, or choose another cohort.",
            field="cohort",
        )


@transaction.atomic
def ask_for_batch(*, cohort: Cohort, kind: str, actor: Membership, now: datetime) -> CertificateBatch:
    """Have the file written; who asks again while it is under way is shown the same one."""
    Cohort.objects.select_for_update().get(pk=cohort.pk)  # two taps at once ask for one file
    refuse_blind(actor, cohort, until=now)
    waiting = batch_under_way(cohort, kind, now=now)
    if waiting:
        return waiting
    total = certificates_to_print(cohort, at=now).count()
    if not total:
        raise NothingToPrint(cohort)
    batch = CertificateBatch.objects.create(
        academy_id=cohort.academy_id, cohort=cohort, kind=kind, asked_by=actor, asked_at=now, total=total
    )
    record(actor, "ask_for_batch", batch, now=now, after={"kind": kind, "certificates": total})
    enqueue("assessments.tasks.write_certificate_batch", batch_id=batch.pk)
    return batch


def write_batch(*, batch: CertificateBatch, now: datetime) -> None:
    """Write the file as the certificates stood when it was asked for; once written it stays.

    Not one transaction: how far it is can be read while it is written.
    """
    if batch.finished_at is not None:
        return
    try:
        content = _content(batch)
    except Exception:
        _rows(batch).update(has_failed=True)
        raise
    _finish(batch, content, now)


def remove_old_batches(*, now: datetime) -> int:
    """Take away the files whose days are over; how many."""
    old = CertificateBatch.objects.filter(asked_at__lte=now - CertificateBatch.KEPT).exclude(file="")
    removed = 0
    for batch in old:
        batch.file.delete(save=False)
        _rows(batch).update(file="")
        removed += 1
    return removed


def _content(batch: CertificateBatch) -> bytes:
    rows = certificates_to_print(batch.cohort, at=batch.asked_at)
    told = _telling(batch, rows)
    if batch.kind == CertificateBatch.Kind.ZIP:
        return certificates_zip(told)
    return certificates_pdf(told, title=f"Certificates of {batch.cohort.name}")


def _telling(batch: CertificateBatch, rows: Iterable[Certificate]) -> Iterator[Certificate]:
    """The certificates one by one, and a note of how far it is now and then."""
    for nth, row in enumerate(rows):
        if nth % TOLD_EVERY == 0:
            _rows(batch).update(done=min(nth, batch.total))
        yield row
    _rows(batch).update(done=batch.total)


@transaction.atomic
def _finish(batch: CertificateBatch, content: bytes, now: datetime) -> None:
    """A second worker that was given the same batch finds it finished, and its own file is dropped."""
    row = CertificateBatch.objects.select_for_update().get(pk=batch.pk)
    if row.finished_at is not None:
        log.info("Batch %s was written twice; the first file stays", row.pk)
        return
    row.file.save(f"{row.uid}.{row.kind}", ContentFile(content), save=False)
    row.finished_at, row.has_failed = now, False
    row.save(update_fields=["file", "finished_at", "has_failed"])


def _rows(batch: CertificateBatch) -> QuerySet[CertificateBatch]:
    return CertificateBatch.objects.filter(pk=batch.pk)
