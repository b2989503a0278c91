from django.db import models
from django.db.models import F, Q

from academy.models import Academy, AppendOnly, Membership
from assessments.credentials.status_list import BITS
from courses.models import Enrolment


class PublicKey(AppendOnly):
    """The public half of a signing key. Published for ever: old certificates are checked with it."""

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="public_keys")
    thumbprint = models.CharField(max_length=43, unique=True)  # RFC 7638, SHA-256
    jwk = models.JSONField()
    created_at = models.DateTimeField()

    class Meta:
        verbose_name = "public key"
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(jwk__has_key="d"), name="public_key_holds_no_private_part")
        ]

    def __str__(self) -> str:
        return self.thumbprint


class Certificate(AppendOnly):
    """What was certified, frozen at issue; ``content`` as ``scoring.certified`` writes it.

    Its state is never stored: it follows from its dates and events at the instant of asking. ``replaces``:
    the one issued before it for the same enrolment, under another name or after it had ended.
    """

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="certificates")
    student = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="certificates")
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="certificates")
    number = models.PositiveIntegerField()
    code = models.CharField(max_length=12, unique=True)
    holder_name = models.CharField(max_length=120)
    content = models.JSONField()
    valid_from = models.DateTimeField()
    valid_until = models.DateTimeField(null=True)
    issued_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    issued_at = models.DateTimeField()
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, related_name="replaced_by_certificate"
    )
    subject_id = models.UUIDField(unique=True)
    token = models.TextField()
    key_thumbprint = models.CharField(max_length=43)
    status_list = models.PositiveSmallIntegerField()
    status_index = models.PositiveIntegerField()

    class Meta:
        verbose_name = "certificate"
        ordering = ["-number"]
        indexes = [models.Index(fields=["student", "-number"], name="certificate_by_student")]
        constraints = [
            models.UniqueConstraint(fields=["academy", "number"], name="certificate_number_once"),
            models.UniqueConstraint(
                fields=["academy", "status_list", "status_index"], name="certificate_status_bit_once"
            ),
            models.UniqueConstraint(
                fields=["enrolment"],
                condition=Q(replaces__isnull=True),
                name="certificate_one_first_per_enrolment",
            ),
            models.CheckConstraint(condition=Q(status_index__lt=BITS), name="certificate_status_bit_in_list"),
            models.CheckConstraint(
                condition=Q(valid_until__isnull=True) | Q(valid_until__gt=F("valid_from")),
                name="certificate_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=~Q(code="") & ~Q(token="") & ~Q(holder_name=""), name="certificate_is_complete"
            ),
        ]

    def __str__(self) -> str:
        return f"certificate {self.number}"


class CertificateEvent(AppendOnly):
    """What happened to a certificate after its issue, and why. A restoring names the suspension it lifts."""

    class Kind(models.TextChoices):
        SUSPENDED = "suspended", "suspended"
        RESTORED = "restored", "restored"
        REVOKED = "revoked", "revoked"
        REPLACED = "replaced", "replaced"

    certificate = models.ForeignKey(Certificate, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=9, choices=Kind)
    reason = models.CharField(max_length=400)
    lifts = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="lifted_by")
    by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        verbose_name = "certificate event"
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["suspended", "restored", "revoked", "replaced"]),
                name="certificate_event_known_kind",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="certificate_event_has_reason"),
            models.CheckConstraint(
                condition=Q(kind="restored", lifts__isnull=False)
                | ~Q(kind="restored") & Q(lifts__isnull=True),
                name="certificate_restoring_names_suspension",
            ),
            models.UniqueConstraint(
                fields=["certificate", "kind"],
                condition=Q(kind__in=["revoked", "replaced"]),
                name="certificate_ends_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind}: certificate {self.certificate_id}"


class CertificateSharing(models.Model):
    """What the holder lets the check page show; without a row, no marks."""

    certificate = models.OneToOneField(Certificate, on_delete=models.PROTECT, related_name="sharing")
    shows_marks = models.BooleanField()
    changed_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"marks of certificate {self.certificate_id} {'shown' if self.shows_marks else 'not shown'}"
