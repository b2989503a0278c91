"""The gate to live models: who signed what, when it opened, and why it closed."""

from django.db import models
from django.db.models import F, Q

from academy.models import AppendOnly, Membership
from courses.models import Enrolment


class GateSignature(AppendOnly):
    """One of the two people who say that a student may work on a live model.

    ``evidence``: every condition as it stood, and ``basis``: the rows it rested on. A signature counts only
    beside another that rests on the same rows.
    """

    class Side(models.TextChoices):
        STUDENT = "student", "student"
        EDUCATOR = "educator", "educator"

    student = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="gate_signatures")
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="gate_signatures")
    side = models.CharField(max_length=8, choices=Side)
    signed_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    evidence = models.JSONField()
    at = models.DateTimeField()

    class Meta:
        verbose_name = "gate signature"
        ordering = ["-id"]
        indexes = [models.Index(fields=["student", "-id"], name="gate_signature_by_student")]
        constraints = [
            models.CheckConstraint(
                condition=Q(side="student", signed_by=F("student"))
                | Q(side="educator") & ~Q(signed_by=F("student")),
                name="gate_signature_by_its_side",
            )
        ]

    def __str__(self) -> str:
        return f"{self.side} for student {self.student_id}"


class GateOpening(AppendOnly):
    """That the gate opened: both signatures on one evidence. ``number``: the student's n-th opening."""

    student = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="gate_openings")
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="gate_openings")
    number = models.PositiveSmallIntegerField()
    student_signature = models.OneToOneField(GateSignature, on_delete=models.PROTECT, related_name="+")
    educator_signature = models.OneToOneField(GateSignature, on_delete=models.PROTECT, related_name="+")
    evidence = models.JSONField()
    at = models.DateTimeField()

    class Meta:
        verbose_name = "gate opening"
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["student", "number"], name="gate_opening_number_once"),
            models.CheckConstraint(
                condition=~Q(student_signature=F("educator_signature")),
                name="gate_opening_takes_two_signatures",
            ),
        ]

    def __str__(self) -> str:
        return f"opening {self.number} for student {self.student_id}"


class GateClosing(AppendOnly):
    """That an opening ended: ``at`` when it ended, ``recorded_at`` when that was written down."""

    class Kind(models.TextChoices):
        LAPSE = "lapse", "lapsed"
        CONDITIONS = "conditions", "a condition no longer met"
        BY_HAND = "by_hand", "closed by hand"

    opening = models.OneToOneField(GateOpening, on_delete=models.PROTECT, related_name="closing")
    kind = models.CharField(max_length=10, choices=Kind)
    words = models.TextField(max_length=1000)
    by = models.ForeignKey(Membership, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    class Meta:
        verbose_name = "gate closing"
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="by_hand", by__isnull=False)
                | Q(kind__in=["lapse", "conditions"], by__isnull=True),
                name="gate_closing_by_hand_names_who",
            ),
            models.CheckConstraint(condition=~Q(words=""), name="gate_closing_says_why"),
        ]

    def __str__(self) -> str:
        return f"opening {self.opening_id} {self.kind}"


class GateStanding(models.Model):
    """Where one student's gate stands since ``at``, kept so that lists need no arithmetic.

    An open gate lapses at ``lapses_at`` by itself, whether or not anybody has written that down.
    """

    class State(models.TextChoices):
        SHUT = "shut", "shut"
        REACHED = "reached", "waiting for both signatures"
        WAITING_FOR_STUDENT = "waiting_for_student", "waiting for the student"
        WAITING_FOR_EDUCATOR = "waiting_for_educator", "waiting for an educator"
        OPEN = "open", "open"
        LAPSED = "lapsed", "lapsed"

    student = models.OneToOneField(Membership, on_delete=models.CASCADE, related_name="gate_standing")
    state = models.CharField(max_length=20, choices=State)
    met = models.PositiveSmallIntegerField()
    asked = models.PositiveSmallIntegerField()
    certificate_ready = models.BooleanField(default=False)
    lapses_at = models.DateTimeField(null=True)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    state__in=[
                        "shut",
                        "reached",
                        "waiting_for_student",
                        "waiting_for_educator",
                        "open",
                        "lapsed",
                    ]
                ),
                name="gate_standing_known_state",
            ),
            models.CheckConstraint(condition=Q(met__lte=F("asked")), name="gate_standing_met_within_asked"),
        ]

    def __str__(self) -> str:
        return f"gate of student {self.student_id}: {self.state}"
