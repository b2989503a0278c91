from datetime import date, datetime
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Lower


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, name: str = "", password: str | None = None, **extra: Any) -> "User":
        user = self.model(email=self.normalize_email(email).lower(), name=name, **extra)
        user.set_password(password)
        user.save()
        return user

    def create_superuser(self, email: str, name: str = "", password: str | None = None) -> "User":
        return self.create_user(email, name, password, is_superuser=True)


class User(AbstractBaseUser, PermissionsMixin):
    """A person who can sign in. What they may see is told by their memberships."""

    email = models.EmailField(unique=True, error_messages={"unique": "Somebody already uses this address."})
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)
    date_joined = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[UserManager] = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        constraints = [models.UniqueConstraint(Lower("email"), name="user_email_once_whatever_case")]

    def __str__(self) -> str:
        return self.name or self.email


class Academy(models.Model):
    """One school. Nothing in it is visible from another."""

    name = models.CharField(max_length=120)
    town = models.CharField(max_length=120, blank=True)
    time_zone = models.CharField(max_length=64, default="UTC")
    # Guides for the bench; the product label and local rules override them.
    adhesive_days = models.PositiveSmallIntegerField(
        default=28, validators=[MinValueValidator(1), MaxValueValidator(365)]
    )
    room_c_low = models.DecimalField(max_digits=3, decimal_places=1, default=20)
    room_c_high = models.DecimalField(max_digits=3, decimal_places=1, default=22)
    room_rh_low = models.PositiveSmallIntegerField(default=40, validators=[MaxValueValidator(100)])
    room_rh_high = models.PositiveSmallIntegerField(default=60, validators=[MaxValueValidator(100)])
    drill_days = models.PositiveSmallIntegerField(default=7, validators=[MinValueValidator(1)])
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name_plural = "academies"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(room_c_low__lte=models.F("room_c_high")), name="academy_room_c_range"
            ),
            models.CheckConstraint(
                condition=models.Q(room_rh_low__lte=models.F("room_rh_high")), name="academy_room_rh_range"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def day_began(self, now: datetime) -> datetime:
        """Midnight here, on the day that ``now`` falls on here."""
        return now.astimezone(ZoneInfo(self.time_zone)).replace(hour=0, minute=0, second=0, microsecond=0)

    def date_of(self, now: datetime) -> date:
        return now.astimezone(ZoneInfo(self.time_zone)).date()


class Cohort(models.Model):
    """Students who take the course together."""

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="cohorts")
    name = models.CharField(max_length=80)
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-starts_on", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["academy", "name"],
                name="cohort_name_once_per_academy",
                violation_error_message="There is already a cohort of this name. Choose another.",
            ),
            models.CheckConstraint(
                condition=models.Q(ends_on__isnull=True) | models.Q(ends_on__gte=models.F("starts_on")),
                name="cohort_ends_after_start",
                violation_error_message="The cohort ends before it starts. Correct one of the dates.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Role(models.TextChoices):
    OWNER = "owner", "Owner"
    EDUCATOR = "educator", "Educator"
    STUDENT = "student", "Student"


class Membership(models.Model):
    """A person's place in one academy. Kept after they leave, because marks point to it."""

    academy = models.ForeignKey(Academy, on_delete=models.PROTECT, related_name="memberships")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=8, choices=Role)
    cohort = models.ForeignKey(
        Cohort, on_delete=models.SET_NULL, null=True, blank=True, related_name="memberships"
    )
    joined_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["academy", "user"], name="membership_once_per_academy"),
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="membership_known_role"),
        ]
        indexes = [models.Index(fields=["academy", "role"], name="membership_by_role")]

    def __str__(self) -> str:
        """Costs a query unless ``user`` is selected."""
        return self.user.name

    @property
    def name(self) -> str:
        """Costs a query unless ``user`` is selected."""
        return self.user.name

    @property
    def is_staff_here(self) -> bool:
        return self.role in {Role.OWNER, Role.EDUCATOR}

    @property
    def is_current(self) -> bool:
        return self.left_at is None


class Invitation(models.Model):
    """A place offered by e-mail. Only a digest of its link's token is kept."""

    academy = models.ForeignKey(Academy, on_delete=models.CASCADE, related_name="invitations")
    email = models.EmailField()
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=8, choices=Role)
    cohort = models.ForeignKey(Cohort, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    token_digest = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    invited_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-invited_at"]
        constraints = [
            models.UniqueConstraint(
                Lower("email"),
                "academy",
                condition=models.Q(accepted_at__isnull=True, withdrawn_at__isnull=True),
                name="invitation_one_open_per_address",
                violation_error_message="This address already has an open invitation. Withdraw it first.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.email} as {self.role}"
