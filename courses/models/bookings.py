"""Who sits where and when; and plans that are only proposed."""

from uuid import uuid4

from django.db import models
from django.db.models import F, Q

from academy.models import Academy, AppendOnly, Membership
from courses.models.catalogue import Drill, Skill
from courses.models.equipment import Head
from courses.models.rota import Bench, SessionKind


class Booking(models.Model):
    """A student at a bench with an educator. ``uid`` and ``sequence`` are those of its calendar entry.

    ``time_zone`` keeps what the clock on the wall said when it was made.
    """

    class State(models.TextChoices):
        PROPOSED = "proposed", "proposed"
        ACCEPTED = "accepted", "accepted"
        ATTENDED = "attended", "attended"
        MISSED = "missed", "missed"
        CANCELLED = "cancelled", "cancelled"

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="bookings")
    uid = models.UUIDField(unique=True, default=uuid4, editable=False)
    sequence = models.PositiveIntegerField(default=0)
    student = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="bookings")
    educator = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="supervised_bookings")
    bench = models.ForeignKey(Bench, on_delete=models.PROTECT, related_name="bookings")
    head = models.ForeignKey(Head, on_delete=models.PROTECT, null=True, blank=True, related_name="bookings")
    kind = models.ForeignKey(SessionKind, on_delete=models.PROTECT, related_name="bookings")
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    drill = models.ForeignKey(Drill, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    time_zone = models.CharField(max_length=64)
    state = models.CharField(max_length=9, choices=State, default=State.PROPOSED)
    made_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["starts_at", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="booking_ends_after_start"),
            models.CheckConstraint(
                condition=Q(state__in=["proposed", "accepted", "attended", "missed", "cancelled"]),
                name="booking_known_state",
            ),
        ]
        indexes = [
            models.Index(fields=["academy", "starts_at"], name="booking_by_time"),
            models.Index(fields=["student", "starts_at"], name="booking_by_student"),
        ]

    def __str__(self) -> str:
        return f"{self.starts_at:%Y-%m-%d %H:%M}: {self.state}"

    @property
    def holds_its_place(self) -> bool:
        return self.state in {self.State.PROPOSED, self.State.ACCEPTED}


class Claim(models.Model):
    """One quarter of an hour of a bench, head, student or educator that one booking holds.

    The same unique key on every database keeps two bookings apart, however many people ask at once. An
    educator has as many ``seat`` numbers as the session's capacity; everything else has seat 0.
    ``quarter``: quarters of an hour since 1970 in UTC. Claims go when a booking gives up its place.
    """

    class What(models.TextChoices):
        BENCH = "bench", "bench"
        HEAD = "head", "head"
        STUDENT = "student", "student"
        EDUCATOR = "educator", "educator"

    booking = models.ForeignKey(Booking, on_delete=models.CASCADE, related_name="claims")
    what = models.CharField(max_length=8, choices=What)
    whom = models.PositiveBigIntegerField()
    seat = models.PositiveSmallIntegerField(default=0)
    quarter = models.PositiveBigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["what", "whom", "quarter", "seat"], name="claim_held_once"),
            models.CheckConstraint(
                condition=Q(what__in=["bench", "head", "student", "educator"]), name="claim_known_what"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} {self.whom} in quarter {self.quarter}"


class BookingChange(AppendOnly):
    """Everything that happened to a booking. ``notice_hours``: whole hours before its start, if before."""

    class Kind(models.TextChoices):
        MADE = "made", "made"
        ACCEPTED = "accepted", "accepted"
        MOVED = "moved", "moved"
        CANCELLED = "cancelled", "cancelled"
        ATTENDED = "attended", "attended"
        MISSED = "missed", "missed"

    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="changes")
    kind = models.CharField(max_length=9, choices=Kind)
    sequence = models.PositiveIntegerField()
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    reason = models.CharField(max_length=240, blank=True)
    notice_hours = models.PositiveIntegerField(null=True, blank=True)
    made_by = models.ForeignKey(Membership, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        verbose_name = "change of a booking"
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["made", "accepted", "moved", "cancelled", "attended", "missed"]),
                name="booking_change_known_kind",
            )
        ]

    def __str__(self) -> str:
        return f"booking {self.booking_id} {self.kind}"


class WaitingPlace(models.Model):
    """A student waits for a freed place. ``offered``: the booking offered to her, at most one at a time."""

    student = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="waiting_places")
    kind = models.ForeignKey(SessionKind, on_delete=models.PROTECT, related_name="waiting_places")
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    first_on = models.DateField()
    last_on = models.DateField()
    asked_at = models.DateTimeField()
    offered = models.OneToOneField(
        Booking, on_delete=models.SET_NULL, null=True, blank=True, related_name="offered_to"
    )
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["asked_at", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(last_on__gte=F("first_on")), name="waiting_ends_after_start"),
            models.UniqueConstraint(
                fields=["student", "kind"], condition=Q(closed_at__isnull=True), name="waiting_once_per_kind"
            ),
        ]

    def __str__(self) -> str:
        return f"student {self.student_id} waits for kind {self.kind_id}"


class RotaProposal(models.Model):
    """A plan as computed, until somebody decides on its lines. ``problem`` keeps what it was computed from.

    ``gap``: how far its value may lie from the best one, as a share; None while unknown.
    """

    class State(models.TextChoices):
        QUEUED = "queued", "waiting to be computed"
        COMPUTING = "computing", "being computed"
        READY = "ready", "ready to look at"
        FAILED = "failed", "failed"
        CLOSED = "closed", "decided"

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="rota_proposals")
    uid = models.UUIDField(unique=True, default=uuid4, editable=False)
    state = models.CharField(max_length=9, choices=State, default=State.QUEUED)
    first_on = models.DateField()
    last_on = models.DateField()
    progress = models.PositiveSmallIntegerField(default=0)  # per cent of the time limit
    time_limit_s = models.PositiveSmallIntegerField()
    seed = models.PositiveIntegerField()
    problem = models.JSONField(default=dict)
    gap = models.FloatField(null=True, blank=True)
    words = models.TextField(blank=True)
    made_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    ready_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name = "proposal"
        ordering = ["-made_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["queued", "computing", "ready", "failed", "closed"]),
                name="proposal_known_state",
            ),
            models.CheckConstraint(condition=Q(progress__lte=100), name="proposal_progress_per_cent"),
            models.CheckConstraint(condition=Q(last_on__gte=F("first_on")), name="proposal_ends_after_start"),
            models.UniqueConstraint(
                fields=["academy"],
                condition=Q(state__in=["queued", "computing"]),
                name="proposal_one_at_a_time",
                violation_error_message="A plan is being computed already. Wait for it, then ask again.",
            ),
        ]

    def __str__(self) -> str:
        return f"proposal {self.first_on}–{self.last_on}: {self.state}"


class ProposalLine(models.Model):
    """One difference between what is booked and what is proposed, with its reason in words.

    ``need``: key of the need on the floor above. ``basis``: the booking's sequence when it was computed.
    """

    class Change(models.TextChoices):
        NEW = "new", "new"
        MOVED = "moved", "moved"
        CANCELLED = "cancelled", "cancelled"
        UNCHANGED = "unchanged", "unchanged"
        UNPLACED = "unplaced", "no place found"

    class State(models.TextChoices):
        OPEN = "open", "to decide"
        ACCEPTED = "accepted", "accepted"
        REFUSED = "refused", "refused"
        OVERTAKEN = "overtaken", "changed since"

    proposal = models.ForeignKey(RotaProposal, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveIntegerField()
    change = models.CharField(max_length=9, choices=Change)
    student = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    need = models.PositiveBigIntegerField(null=True, blank=True)
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    basis = models.PositiveIntegerField(null=True, blank=True)
    content = models.JSONField(default=dict)
    words = models.TextField(blank=True)
    state = models.CharField(max_length=9, choices=State, default=State.OPEN)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["proposal", "position"], name="proposal_line_position_once"),
            models.CheckConstraint(
                condition=Q(change__in=["new", "moved", "cancelled", "unchanged", "unplaced"]),
                name="proposal_line_known_change",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["open", "accepted", "refused", "overtaken"]),
                name="proposal_line_known_state",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.change}: {self.state}"


class CalendarFeed(models.Model):
    """A secret address of one person's bookings. Only a digest of its token is kept."""

    member = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="calendar_feeds")
    token_digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["member"], condition=Q(revoked_at__isnull=True), name="calendar_feed_one_open"
            )
        ]

    def __str__(self) -> str:
        return f"feed of member {self.member_id}"
