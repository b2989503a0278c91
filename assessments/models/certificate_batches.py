from datetime import datetime, timedelta
from uuid import uuid4

from django.db import models
from django.db.models import F, Q

from academy.models import Academy, Cohort, Membership


class CertificateBatch(models.Model):
    """The certificates of a cohort on their way into one file, which is kept for some days."""

    KEPT = timedelta(days=7)
    STALLED = timedelta(minutes=15)  # nobody waits longer for it than this

    class Kind(models.TextChoices):
        PDF = "pdf", "One PDF to print"
        ZIP = "zip", "A ZIP with one PDF for each holder"

    uid = models.UUIDField(unique=True, default=uuid4, editable=False)
    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="certificate_batches")
    cohort = models.ForeignKey(Cohort, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=3, choices=Kind)
    asked_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    total = models.PositiveIntegerField()
    done = models.PositiveIntegerField(default=0)
    finished_at = models.DateTimeField(null=True)
    has_failed = models.BooleanField(default=False)
    file = models.FileField(upload_to="certificate-batches")

    class Meta:
        verbose_name = "batch of certificates"
        verbose_name_plural = "batches of certificates"
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=["pdf", "zip"]), name="certificate_batch_known_kind"),
            models.CheckConstraint(condition=Q(total__gt=0), name="certificate_batch_of_something"),
            models.CheckConstraint(condition=Q(done__lte=F("total")), name="certificate_batch_done_of_total"),
            models.CheckConstraint(
                condition=Q(file="") | Q(finished_at__isnull=False),
                name="certificate_batch_file_when_finished",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.total} certificates as {self.kind}"

    @property
    def kept_until(self) -> datetime:
        return self.asked_at + self.KEPT

    def is_ready(self, now: datetime) -> bool:
        """There is a file to fetch."""
        return bool(self.file) and now < self.kept_until

    def is_under_way(self, now: datetime) -> bool:
        return self.finished_at is None and not self.has_failed and now < self.asked_at + self.STALLED

    def is_gone(self, now: datetime) -> bool:
        """It was written, and its days are over."""
        return self.finished_at is not None and not self.is_ready(now)
