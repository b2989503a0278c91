from django.db import models
from django.db.models import Q

from academy.models.kept import AppendOnly
from academy.models.people import Membership


class Purpose(models.TextChoices):
    """What somebody may be asked to agree to, each for itself; the words are in ``academy.words``."""

    ASSESSMENT_RECORD = "assessment_record", "assessment record"
    GRADING_PHOTO = "grading_photo", "photos for marking"
    TEACHING_USE = "teaching_use", "use in teaching"
    PUBLICITY = "publicity", "publicity"
    PRACTICE_MODEL = "practice_model", "practice model"


class Consent(AppendOnly):
    """One yes or no to one purpose, in the wording of its day; the newest row of a purpose counts."""

    member = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="consents")
    purpose = models.CharField(max_length=20, choices=Purpose)
    wording_version = models.CharField(max_length=20)
    given = models.BooleanField()
    recorded_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        verbose_name = "consent"
        ordering = ["id"]
        indexes = [models.Index(fields=["member", "purpose", "-id"], name="consent_by_member")]
        constraints = [
            models.CheckConstraint(condition=Q(purpose__in=Purpose.values), name="consent_known_purpose"),
            models.CheckConstraint(condition=~Q(wording_version=""), name="consent_names_its_wording"),
        ]

    def __str__(self) -> str:
        return f"{self.purpose}: {'given' if self.given else 'not given'}"
