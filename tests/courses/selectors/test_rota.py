from datetime import UTC, date, datetime, time

import pytest

from academy.errors import NotHere
from courses.models import ClosedDay, FreeException, Room, RotaRules, TimeAway
from courses.planning.availability import Span
from courses.selectors import rota as find
from courses.services.rota import retire_kind, retire_room, save_room
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, Rota, make_free, make_rota

MONDAY, TUESDAY, SUNDAY = date(2026, 3, 9), date(2026, 3, 10), date(2026, 3, 15)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


def day(on: date, starts: int = 9, ends: int = 17) -> Span:
    first, last = (datetime(on.year, on.month, on.day, hour, tzinfo=UTC) for hour in (starts, ends))
    return Span(first, last)


def test_without_a_row_the_defaults_hold(cast: Cast):
    assert find.rules_of(cast.academy).notice_hours == 48
    assert not RotaRules.objects.exists()
    RotaRules.objects.create(academy=cast.academy, notice_hours=24)
    assert find.rules_of(cast.academy).notice_hours == 24


def test_only_what_is_in_use_is_found(cast: Cast, rota: Rota):
    save_room(room=rota.room, name="Front room", benches=["Bench 2"], actor=cast.owner, now=MADE_AT)
    retire_kind(kind=rota.group, actor=cast.owner, now=MADE_AT)
    assert [bench.name for bench in find.benches(cast.academy)] == ["Bench 2"]
    assert [bench.name for room in find.rooms(cast.academy) for bench in room.benches.all()] == ["Bench 2"]
    assert rota.group not in find.session_kinds(cast.academy)
    for gone in (
        lambda: find.bench(cast.academy, rota.benches[0].pk),
        lambda: find.session_kind(cast.academy, rota.group.pk),
    ):
        with pytest.raises(NotHere):
            gone()
    retire_room(room=Room.objects.get(), actor=cast.owner, now=MADE_AT)
    assert not find.benches(cast.academy)


def test_another_academy_finds_nothing(cast: Cast, rota: Rota):
    away = TimeAway.objects.create(educator=cast.ines, first_on=MONDAY, last_on=MONDAY)
    closed = ClosedDay.objects.create(academy=cast.academy, on=MONDAY)
    for look, key in (
        (find.room, rota.room.pk),
        (find.bench, rota.benches[0].pk),
        (find.session_kind, rota.live.pk),
        (find.educator, cast.ines.pk),
        (find.closed_day, closed.pk),
        (find.time_away, away.pk),
    ):
        assert look(cast.academy, key).pk == key
        with pytest.raises(NotHere):
            look(cast.other_academy, key)
    assert find.opening_spans(cast.other_academy, MONDAY, SUNDAY) == ()
    assert find.working_spans(cast.other_academy, MONDAY, SUNDAY) == {}


def test_a_closed_day_and_days_away_are_left_out(cast: Cast, rota: Rota):
    ClosedDay.objects.create(academy=cast.academy, on=TUESDAY)
    TimeAway.objects.create(educator=cast.ines, first_on=date(2026, 3, 11), last_on=date(9999, 12, 31))
    opening = find.opening_spans(cast.academy, MONDAY, SUNDAY)
    assert opening == tuple(day(date(2026, 3, n)) for n in (9, 11, 12, 13))
    working = find.working_spans(cast.academy, MONDAY, SUNDAY)
    assert working == {cast.ines.pk: (day(MONDAY),), cast.second.pk: opening}


def test_students_of_today_and_educators_who_left_are_no_educators(cast: Cast, rota: Rota):
    cast.second.left_at = MADE_AT
    cast.second.save()
    assert list(find.educators(cast.academy)) == [cast.ines, cast.owner]
    assert cast.second.pk not in find.working_spans(cast.academy, MONDAY, SUNDAY)
    assert set(find.taught_skills(cast.academy)) == {cast.ines.pk}


def test_a_day_that_differs_stands_instead_of_the_usual_one(cast: Cast, rota: Rota):
    make_free(cast.ada, 0, 1, starts=time(9), ends=time(12))
    FreeException.objects.create(student=cast.ada, on=MONDAY)
    FreeException.objects.create(student=cast.ada, on=SUNDAY, starts=time(14), ends=time(16))
    found = find.free_spans(cast.academy, MONDAY, SUNDAY)
    assert found == {cast.ada.pk: (day(TUESDAY, 9, 12), day(SUNDAY, 14, 16))}


def test_who_entered_only_a_day_off_is_free_on_all_others(cast: Cast, rota: Rota):
    FreeException.objects.create(student=cast.ada, on=MONDAY)
    (spans,) = find.free_spans(cast.academy, MONDAY, TUESDAY).values()
    assert not any(span.holds(day(MONDAY, 9, 10)) for span in spans)
    assert any(span.holds(day(TUESDAY)) for span in spans)


def test_the_price_does_not_rise_with_people(cast: Cast, rota: Rota, django_assert_num_queries):
    for student in (cast.ada, cast.bea):
        make_free(student)
    with django_assert_num_queries(4):
        find.working_spans(cast.academy, MONDAY, SUNDAY)
    with django_assert_num_queries(2):
        find.free_spans(cast.academy, MONDAY, SUNDAY)
