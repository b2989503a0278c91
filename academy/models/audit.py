from django.db import models

from academy.models.kept import AppendOnly
from academy.models.people import Academy, Membership


class AuditEntry(AppendOnly):
    """Who did what to which row, when and why. Keys and values only: no names, no photos."""

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="audit_entries")
    actor = models.ForeignKey(Membership, on_delete=models.PROTECT, null=True, related_name="+")
    action = models.CharField(max_length=60)
    object_type = models.CharField(max_length=60)
    object_id = models.CharField(max_length=64)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    reason = models.TextField(blank=True)
    at = models.DateTimeField()

    class Meta:
        verbose_name = "audit entry"
        verbose_name_plural = "audit entries"
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["academy", "-id"], name="audit_by_academy"),
            models.Index(fields=["object_type", "object_id"], name="audit_by_object"),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.action} {self.object_type} {self.object_id}"
