"""Many want the same at one instant, on either database."""

from functools import partial

import pytest

from academy.errors import DomainError
from courses.models import Booking, Claim, RotaRules
from courses.services import bookings as services
from courses.services.booking_letters import tell_booking_change
from courses.services.bookings import book, move_booking
from tests.factories.academy import Cast, make_member
from tests.factories.parallel import at_once
from tests.factories.rota import MADE_AT, later, make_rota, place_for

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


def test_two_who_swap_their_benches_at_one_instant_do_not_wait_for_each_other_for_ever(cast: Cast):
    """Both are refused or one moves first: each holds what the other wants."""
    rota = make_rota(cast)
    made = [
        book(place=place_for(cast, rota, **given), actor=cast.ines, live_allowed=False, now=MADE_AT)
        for given in ({"bench": rota.benches[0]}, {"bench": rota.benches[1], "student": cast.bea})
    ]
    answers = at_once(
        *(
            partial(
                move_booking,
                booking=booking,
                place=place_for(cast, rota, student=booking.student, bench=bench),
                actor=cast.ines,
                seen=0,
                live_allowed=False,
                now=MADE_AT,
            )
            for booking, bench in zip(made, reversed(rota.benches), strict=True)
        )
    )
    assert [each.code for each in answers if isinstance(each, DomainError)] == ["place_taken"] * 2
    assert Claim.objects.filter(what="bench").count() == 12


def test_a_student_who_asks_ten_times_at_once_holds_no_more_than_she_may(cast: Cast):
    rota = make_rota(cast)
    RotaRules.objects.create(academy=cast.academy, open_bookings=2)
    asked = [
        partial(
            book,
            place=place_for(cast, rota, starts_at=later(24 * day + hours)),
            actor=cast.ada,
            live_allowed=False,
            now=MADE_AT,
        )
        for day in range(5)
        for hours in (0, 2)
    ]
    answers = at_once(*asked)
    codes = [each.code for each in answers if isinstance(each, DomainError)]
    assert codes == ["too_many_bookings"] * 8
    assert Booking.objects.count() == 2


def test_two_workers_with_one_change_send_each_letter_once(cast: Cast, mailoutbox):
    rota = make_rota(cast)
    made = book(place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=MADE_AT)
    change = made.changes.get()
    sent = at_once(*[partial(tell_booking_change, change_id=change.pk, now=MADE_AT)] * 4)
    assert sum(each for each in sent if isinstance(each, int)) == 2
    assert sorted(letter.to[0].split()[0] for letter in mailoutbox) == ["Ada", "Ines"]


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
