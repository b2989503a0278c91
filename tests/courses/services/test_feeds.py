from datetime import timedelta

import pytest

from academy.errors import NotHere
from academy.models import AuditEntry
from courses.models import CalendarFeed
from courses.selectors.feeds import feed_by_token, open_feed
from courses.services.feeds import close_feed, renew_feed
from tests.factories.academy import Cast


def test_the_address_holds_at_least_128_random_bits_and_only_its_digest_is_kept(cast: Cast, now):
    token = renew_feed(member=cast.ada, now=now)
    assert len(token) * 6 >= 128  # a character of URL-safe base64 holds six bits
    (feed,) = CalendarFeed.objects.all()
    assert token not in str(vars(feed))
    assert feed_by_token(token) == feed


def test_a_new_address_ends_the_old_one(cast: Cast, now):
    old = renew_feed(member=cast.ada, now=now)
    new = renew_feed(member=cast.ada, now=now + timedelta(days=1))
    assert old != new
    with pytest.raises(NotHere):
        feed_by_token(old)
    assert feed_by_token(new).member == cast.ada


def test_a_closed_feed_answers_nobody_and_closing_twice_is_harmless(cast: Cast, now):
    token = renew_feed(member=cast.ada, now=now)
    close_feed(member=cast.ada, now=now)
    close_feed(member=cast.ada, now=now)
    with pytest.raises(NotHere):
        feed_by_token(token)
    assert open_feed(cast.ada) is None


def test_who_has_left_has_no_feed(cast: Cast, now):
    token = renew_feed(member=cast.ada, now=now)
    cast.ada.left_at = now
    cast.ada.save()
    with pytest.raises(NotHere):
        feed_by_token(token)


def test_the_audit_tells_of_it_but_not_the_token(cast: Cast, now):
    token = renew_feed(member=cast.ada, now=now)
    close_feed(member=cast.ada, now=now)
    entries = AuditEntry.objects.order_by("pk")
    assert [entry.action for entry in entries] == ["renew_feed", "close_feed"]
    assert all(token not in str(vars(entry)) for entry in entries)
