"""Secret addresses of calendars: opened, changed, closed."""

from datetime import datetime
from secrets import token_urlsafe

from django.db import transaction

from academy.models import Membership
from academy.services.audit import record
from courses.models import CalendarFeed
from courses.selectors.feeds import token_digest

TOKEN_BYTES = 32


@transaction.atomic
def renew_feed(*, member: Membership, now: datetime) -> str:
    """A new secret token; the address before it stops working. Only a digest is kept: show the token now."""
    close_feed(member=member, now=now)
    token = token_urlsafe(TOKEN_BYTES)
    feed = CalendarFeed.objects.create(member=member, token_digest=token_digest(token), made_at=now)
    record(member, "renew_feed", feed, now=now)
    return token


@transaction.atomic
def close_feed(*, member: Membership, now: datetime) -> None:
    """The address stops working at once; a member without one is left as she is."""
    feed = CalendarFeed.objects.select_for_update().filter(member=member, revoked_at=None).first()
    if feed:
        feed.revoked_at = now
        feed.save(update_fields=["revoked_at"])
        record(member, "close_feed", feed, now=now)
