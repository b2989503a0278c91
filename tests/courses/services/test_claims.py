"""The unique key of the database stands behind the turns: it decides even when nobody takes one."""

import pytest
from django.db import IntegrityError, transaction

from courses.models import Booking, Claim
from courses.services import bookings as services
from courses.services.bookings import book
from courses.services.claims import PlaceTaken, claim_place, release_place
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, Rota, make_rota, place_for


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


@pytest.fixture
def made(cast: Cast, rota: Rota, monkeypatch: pytest.MonkeyPatch) -> Booking:
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)
    return book(place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=MADE_AT)


def test_the_key_alone_keeps_a_quarter_from_being_held_twice(made: Booking):
    held = Claim.objects.filter(what="bench").first()
    assert held
    with pytest.raises(IntegrityError), transaction.atomic():
        Claim.objects.create(booking=made, what="bench", whom=held.whom, quarter=held.quarter)


def test_what_is_taken_is_named(made: Booking):
    with pytest.raises(PlaceTaken, match="Ada Marsh already has a booking") as told:
        claim_place(made)
    assert told.value.details == {"what": "student"}


def test_released_and_claimed_again_it_holds_the_same(made: Booking):
    before = set(Claim.objects.values_list("what", "whom", "seat", "quarter"))
    release_place(made)
    assert not Claim.objects.exists()
    claim_place(made)
    assert set(Claim.objects.values_list("what", "whom", "seat", "quarter")) == before


def test_the_lowest_free_seat_is_taken_again(cast: Cast, rota: Rota, made: Booking):
    beside = place_for(cast, rota, student=cast.bea, bench=rota.benches[1])
    other = book(place=beside, actor=cast.ines, live_allowed=False, now=MADE_AT)
    assert set(other.claims.filter(what="educator").values_list("seat", flat=True)) == {1}
    release_place(made)
    claim_place(made)
    assert set(made.claims.filter(what="educator").values_list("seat", flat=True)) == {0}
