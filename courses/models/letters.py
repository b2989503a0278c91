from django.db import models

from academy.models import AppendOnly, Membership
from courses.models.bookings import BookingChange


class BookingLetter(AppendOnly):
    """That one person was told of one change: nobody is told twice, whatever is tried again."""

    change = models.ForeignKey(BookingChange, on_delete=models.PROTECT, related_name="letters")
    member = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        verbose_name = "letter about a booking"
        constraints = [models.UniqueConstraint(fields=["change", "member"], name="booking_letter_once")]

    def __str__(self) -> str:
        return f"change {self.change_id} told to member {self.member_id}"
