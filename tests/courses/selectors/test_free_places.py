from datetime import date, time, timedelta
from typing import Any

import pytest

from courses.models import FreeException, Skill, TaughtSkill
from courses.selectors.free_places import Offer, offers_for
from courses.services import bookings as services
from courses.services.bookings import book
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, TEN, Rota, later, make_free, make_rota, place_for

MONDAY = TEN.date()


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


def offers(cast: Cast, rota: Rota, **changes: Any) -> list[Offer]:
    given = {"student": cast.ada, "kind": rota.supervised, "skill": None, "days": (MONDAY, MONDAY)}
    return offers_for(*(given | changes).values(), earliest=MADE_AT)


def booked(cast: Cast, rota: Rota, **changes: Any) -> None:
    book(place=place_for(cast, rota, **changes), actor=cast.ines, live_allowed=False, now=MADE_AT)


def test_every_half_hour_of_the_opening_is_offered(cast: Cast, rota: Rota):
    starts = [offer.starts_at for offer in offers(cast, rota)]
    assert starts == [TEN.replace(hour=9) + n * timedelta(minutes=30) for n in range(14)]  # 9:00 to 15:30


def test_only_when_the_student_can_come(cast: Cast, rota: Rota):
    make_free(cast.ada, 0, starts=time(13), ends=time(15))
    assert [offer.starts_at.hour for offer in offers(cast, rota)] == [13, 13]
    FreeException.objects.create(student=cast.ada, on=MONDAY)
    assert offers(cast, rota) == []


def test_a_day_off_leaves_all_others(cast: Cast, rota: Rota):
    FreeException.objects.create(student=cast.ada, on=MONDAY)
    days = {offer.starts_at.date() for offer in offers(cast, rota, days=(MONDAY, date(2026, 3, 10)))}
    assert days == {date(2026, 3, 10)}


def test_her_own_booking_is_not_offered_over(cast: Cast, rota: Rota):
    booked(cast, rota)
    starts = {offer.starts_at for offer in offers(cast, rota)}
    assert not {later(hours / 2) for hours in range(-2, 3)} & starts
    assert later(1.5) in starts


def test_what_is_moved_stands_in_nobodys_way_but_is_no_other_time(cast: Cast, rota: Rota):
    moved = book(place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=MADE_AT)
    given = (cast.ada, rota.supervised, None, (MONDAY, MONDAY))
    starts = {offer.starts_at for offer in offers_for(*given, earliest=MADE_AT, moved=moved)}
    assert {later(-0.5), later(0.5), later(1)} <= starts
    assert TEN not in starts


def test_another_bench_and_another_educator_step_in(cast: Cast, rota: Rota):
    booked(cast, rota, student=cast.bea)
    (at_ten,) = [offer for offer in offers(cast, rota) if offer.starts_at == TEN]
    assert (at_ten.bench, at_ten.educator) == (rota.benches[1], cast.ines)


def test_only_who_teaches_the_skill_is_offered(cast: Cast, rota: Rota):
    skill = Skill.objects.get(code="isolation")
    TaughtSkill.objects.filter(educator=cast.ines, skill=skill).delete()
    assert {offer.educator for offer in offers(cast, rota, skill=skill)} == {cast.second}
    TaughtSkill.objects.filter(skill=skill).delete()
    assert offers(cast, rota, skill=skill) == []


def test_what_is_offered_can_be_booked(cast: Cast, rota: Rota):
    booked(cast, rota, student=cast.bea, starts_at=later(1))
    for offer in offers(cast, rota)[::4]:
        place = place_for(cast, rota, educator=offer.educator, bench=offer.bench, starts_at=offer.starts_at)
        made = book(place=place, actor=cast.ines, live_allowed=False, now=MADE_AT)
        assert made.starts_at == offer.starts_at


def test_the_price_is_the_same_for_a_fortnight(cast: Cast, rota: Rota, django_assert_max_num_queries):
    with django_assert_max_num_queries(10):
        assert offers(cast, rota, days=(MONDAY, MONDAY + timedelta(days=13)))
