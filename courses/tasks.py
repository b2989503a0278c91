"""Background work of this floor: fetch by key, do one thing, be harmless when repeated."""

from smtplib import SMTPException

from celery import shared_task
from django.utils import timezone

from academy.models import Academy
from courses.selectors.bookings import academies_where_somebody_waits
from courses.services import booking_letters, waiting


@shared_task(autoretry_for=(SMTPException, OSError), retry_backoff=30, retry_backoff_max=1800, max_retries=6)
def tell_booking_change(*, change_id: int) -> None:
    """Tell those concerned by e-mail what happened to a booking, each of them once."""
    booking_letters.tell_booking_change(change_id=change_id, now=timezone.now())


@shared_task
def offer_places(*, academy_id: int) -> None:
    """Offer what has become free to those who wait; told after each booking that gives up its place."""
    waiting.offer_places(academy=Academy.objects.get(pk=academy_id), now=timezone.now())


@shared_task
def offer_all_places() -> None:
    """Once a night: new hours, benches and free times make places too, and waits end with their last day."""
    for academy in academies_where_somebody_waits():
        waiting.offer_places(academy=academy, now=timezone.now())
