"""Doors open to the right role, send strangers to sign in, and tell time as the academy does."""

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.test import RequestFactory
from django.utils import timezone

from academy.access import for_members, for_owner, for_staff, for_students

pytestmark = pytest.mark.django_db
DOORS = {
    for_members: {"owner", "ines", "ada"},
    for_staff: {"owner", "ines"},
    for_owner: {"owner"},
    for_students: {"ada"},
}


def knock(door, member=None, user=None):
    request = RequestFactory().get("/page/")
    request.user = user or (member.user if member else AnonymousUser())
    request.member = member
    return door(lambda request: HttpResponse(timezone.get_current_timezone_name()))(request)


@pytest.mark.parametrize("door", DOORS, ids=lambda door: door.__name__)
def test_a_door_opens_to_its_roles_only(cast, door):
    for who in ("owner", "ines", "ada"):
        if who in DOORS[door]:
            assert knock(door, getattr(cast, who)).status_code == 200
        else:
            with pytest.raises(PermissionDenied, match="This page is for"):
                knock(door, getattr(cast, who))


@pytest.mark.parametrize("door", DOORS, ids=lambda door: door.__name__)
def test_a_stranger_goes_to_sign_in_and_somebody_without_a_place_to_the_choice(cast, door):
    assert knock(door)["Location"] == "/account/login/?next=/page/"
    assert knock(door, user=cast.ada.user)["Location"] == "/choose/"


def test_times_are_told_in_the_academys_zone(cast):
    cast.academy.time_zone = "Asia/Kolkata"
    cast.academy.save()
    cast.ada.refresh_from_db()
    assert knock(for_members, cast.ada).content == b"Asia/Kolkata"
    assert timezone.get_current_timezone_name() == "UTC"
