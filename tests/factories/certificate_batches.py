"""Files of certificates as they stand while they are written, when they are ready, and later."""

from datetime import datetime, timedelta

from django.core.files.base import ContentFile
from django.utils import timezone

from academy.models import Cohort, Membership
from assessments.models import CertificateBatch


def make_batch(
    cohort: Cohort, actor: Membership, *, kind: str = "pdf", at: datetime | None = None, total: int = 20
) -> CertificateBatch:
    """Asked for just now, or ``at``; nothing is written yet."""
    return CertificateBatch.objects.create(
        academy_id=cohort.academy_id,
        cohort=cohort,
        kind=kind,
        asked_by=actor,
        asked_at=at or timezone.now(),
        total=total,
    )


def finish_batch(batch: CertificateBatch, content: bytes = b"%PDF-1.7 invented") -> CertificateBatch:
    batch.file.save(f"{batch.uid}.{batch.kind}", ContentFile(content), save=False)
    batch.done, batch.finished_at = batch.total, batch.asked_at + timedelta(seconds=4)
    batch.save()
    return batch
