"""Twenty people want one bench at the same instant, on either database."""

from functools import partial

import pytest

from academy.errors import DomainError
from courses.models import Booking, Claim
from courses.services import bookings as services
from courses.services.bookings import book
from tests.factories.academy import Cast, make_member
from tests.factories.parallel import at_once
from tests.factories.rota import MADE_AT, make_rota, place_for

pytestmark = pytest.mark.django_db(transaction=True)
CLIENTS = 20


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch):
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)


def test_of_twenty_who_want_the_last_bench_one_gets_it(cast: Cast):
    rota = make_rota(cast, benches=1)
    students = [make_member(cast.academy, f"Student {n}") for n in range(CLIENTS)]
    asked = [
        partial(
            book,
            place=place_for(cast, rota, student=each),
            actor=cast.ines,
            live_allowed=False,
            now=MADE_AT,
        )
        for each in students
    ]
    answers = at_once(*asked)
    refused = [answer for answer in answers if isinstance(answer, DomainError)]
    assert [each.code for each in refused] == ["place_taken"] * (CLIENTS - 1)
    assert Booking.objects.count() == 1
    assert Claim.objects.filter(what="bench").count() == 6


def test_of_twenty_who_want_one_educator_as_many_get_her_as_the_kind_allows(cast: Cast):
    rota = make_rota(cast, benches=CLIENTS)
    students = [make_member(cast.academy, f"Student {n}") for n in range(CLIENTS)]
    asked = [
        partial(
            book,
            place=place_for(cast, rota, student=each, bench=bench),
            actor=cast.ines,
            live_allowed=False,
            now=MADE_AT,
        )
        for each, bench in zip(students, rota.benches, strict=True)
    ]
    answers = at_once(*asked)
    assert sum(isinstance(answer, Booking) for answer in answers) == rota.supervised.capacity
    assert Booking.objects.count() == rota.supervised.capacity
