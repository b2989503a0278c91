from datetime import date, time

import pytest

from academy.models import AuditEntry
from courses.models import (
    Bench,
    ClosedDay,
    OpeningHours,
    Room,
    RotaRules,
    SessionKind,
    Skill,
    TaughtSkill,
    TimeAway,
    WorkingHours,
)
from courses.planning.availability import Hours
from courses.services import bookings as booking_services
from courses.services.bookings import book, cancel_booking
from courses.services.catalogue import load_catalogue
from courses.services.rota import (
    AwayBackwards,
    BenchesWrong,
    HoursBackwards,
    HoursOverlap,
    KindContent,
    NameTaken,
    RulesWrong,
    StillBooked,
    add_time_away,
    change_rules,
    close_day,
    drop_time_away,
    install_starter_rota,
    open_day,
    retire_kind,
    retire_room,
    save_kind,
    save_room,
    set_opening,
    set_working,
)
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, make_rota, place_for

NOW = MADE_AT
GROUP = KindContent("Group drill", SessionKind.Form.GROUP_DRILL, 60, 6)


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(booking_services, "enqueue", lambda *args, **kwargs: None)


def room_with(cast: Cast, *benches: str, name: str = "Front room") -> Room:
    room = Room(academy=cast.academy)
    return save_room(room=room, name=name, benches=benches, actor=cast.owner, now=NOW)


def in_use(room: Room) -> list[str]:
    return list(room.benches.filter(retired_at=None).values_list("name", flat=True))


def test_a_room_has_exactly_the_benches_that_were_typed(cast: Cast):
    room = room_with(cast, "Window", " Door ", "")
    kept = room.benches.get(name="Door")
    save_room(room=room, name="Front room", benches=["Door", "Corner"], actor=cast.owner, now=NOW)
    assert in_use(room) == ["Corner", "Door"]
    assert room.benches.get(name="Door", retired_at=None) == kept
    assert Bench.objects.get(name="Window").retired_at == NOW  # kept for the records


def test_a_bench_can_come_and_go_on_one_day(cast: Cast):
    room = room_with(cast, "Window")
    for names in ([], ["Window"], [], ["window"]):
        save_room(room=room, name="Front room", benches=names, actor=cast.owner, now=NOW)
    assert in_use(room) == ["window"]


def test_a_booked_bench_is_not_taken_out(cast: Cast):
    rota = make_rota(cast)
    made = book(place=place_for(cast, rota), actor=cast.ines, live_allowed=False, now=NOW)
    with pytest.raises(StillBooked, match="Bench 1"):
        save_room(room=rota.room, name="Front room", benches=["Bench 2"], actor=cast.owner, now=NOW)
    with pytest.raises(StillBooked):
        retire_room(room=rota.room, actor=cast.owner, now=NOW)
    assert in_use(rota.room) == ["Bench 1", "Bench 2"]
    cancel_booking(booking=made, actor=cast.ines, seen=0, now=NOW)
    retire_room(room=rota.room, actor=cast.owner, now=NOW)
    assert (rota.room.retired_at, in_use(rota.room)) == (NOW, [])


@pytest.mark.parametrize(
    ("benches", "words"),
    [(["Door", "door"], "same name"), (["x" * 41], "too long"), ([str(n) for n in range(61)], "60 benches")],
)
def test_benches_that_cannot_be_are_refused(cast: Cast, benches: list[str], words: str):
    with pytest.raises(BenchesWrong, match=words):
        room_with(cast, *benches)
    assert not Room.objects.exists()


def test_a_name_is_given_once_among_what_is_in_use(cast: Cast):
    room = room_with(cast)
    with pytest.raises(NameTaken, match="room named front ROOM"):
        room_with(cast, name="front ROOM")
    retire_room(room=room, actor=cast.owner, now=NOW)
    room_with(cast)
    kind = save_kind(kind=SessionKind(academy=cast.academy), content=GROUP, actor=cast.owner, now=NOW)
    with pytest.raises(NameTaken, match="kind of session"):
        save_kind(kind=SessionKind(academy=cast.academy), content=GROUP, actor=cast.owner, now=NOW)
    retire_kind(kind=kind, actor=cast.owner, now=NOW)
    save_kind(kind=SessionKind(academy=cast.academy), content=GROUP, actor=cast.owner, now=NOW)


def test_hours_are_replaced_as_a_whole(cast: Cast):
    load_catalogue()
    skill = Skill.objects.get(code="isolation")
    for hours in ([Hours(0, time(9), time(12)), Hours(0, time(12), time(17))], [Hours(1, time(9), time(10))]):
        set_opening(academy=cast.academy, hours=hours, actor=cast.owner, now=NOW)
        set_working(educator=cast.ines, hours=hours, skills=[skill], actor=cast.owner, now=NOW)
    assert [str(row) for row in OpeningHours.objects.all()] == ["Tuesday 09:00–10:00"]
    assert [str(row) for row in WorkingHours.objects.all()] == ["Tuesday 09:00–10:00"]
    assert TaughtSkill.objects.get().skill == skill


@pytest.mark.parametrize(
    ("hours", "refusal", "words"),
    [
        ([Hours(0, time(9), time(12)), Hours(0, time(11), time(13))], HoursOverlap, "Monday"),
        ([Hours(2, time(12), time(9))], HoursBackwards, "Wednesday"),
        ([Hours(2, time(9), time(9))], HoursBackwards, "Wednesday"),
    ],
)
def test_hours_that_cannot_be_leave_the_old_ones(cast: Cast, hours, refusal, words):
    set_opening(academy=cast.academy, hours=[Hours(4, time(9), time(12))], actor=cast.owner, now=NOW)
    with pytest.raises(refusal, match=words):
        set_opening(academy=cast.academy, hours=hours, actor=cast.owner, now=NOW)
    assert OpeningHours.objects.get().weekday == 4


def test_a_day_is_closed_and_opened_again(cast: Cast):
    day = date(2026, 3, 9)
    close_day(academy=cast.academy, on=day, reason="", actor=cast.owner, now=NOW)
    row = close_day(academy=cast.academy, on=day, reason="Holiday", actor=cast.owner, now=NOW)
    assert ClosedDay.objects.get().reason == "Holiday"
    open_day(closed=row, actor=cast.owner, now=NOW)
    assert not ClosedDay.objects.exists()


def test_time_away_ends_after_it_began(cast: Cast):
    first, last = date(2026, 3, 9), date(2026, 3, 13)
    row = add_time_away(educator=cast.ines, first_on=first, last_on=last, actor=cast.owner, now=NOW)
    with pytest.raises(AwayBackwards):
        add_time_away(educator=cast.ines, first_on=last, last_on=first, actor=cast.owner, now=NOW)
    drop_time_away(away=row, actor=cast.owner, now=NOW)
    assert not TimeAway.objects.exists()


def test_rules_are_changed_one_by_one_and_stay_sensible(cast: Cast):
    change_rules(academy=cast.academy, changes={"notice_hours": 24}, actor=cast.owner, now=NOW)
    rules = change_rules(academy=cast.academy, changes={"open_bookings": 2}, actor=cast.owner, now=NOW)
    assert (rules.notice_hours, rules.open_bookings) == (24, 2)
    for wrong, field in (
        ({"spacing_days_low": 9}, "spacing_days_low"),
        ({"days_ahead": 366}, "days_ahead"),
        ({"open_bookings": 0}, "open_bookings"),
    ):
        with pytest.raises(RulesWrong) as told:
            change_rules(academy=cast.academy, changes=wrong, actor=cast.owner, now=NOW)
        assert told.value.details["field"] == field
    stored = RotaRules.objects.get()
    assert (stored.days_ahead, stored.open_bookings, stored.spacing_days_low) == (56, 2, 2)


def test_a_new_academy_has_kinds_and_hours_to_start_from(cast: Cast):
    install_starter_rota(academy=cast.academy, actor=cast.owner, now=NOW)
    forms = SessionKind.objects.values_list("form", flat=True)
    assert sorted(forms) == sorted(SessionKind.Form.values)
    assert OpeningHours.objects.filter(academy=cast.academy).count() == 5


def test_every_change_leaves_an_entry(cast: Cast):
    room = room_with(cast, "Window")
    retire_room(room=room, actor=cast.owner, now=NOW)
    change_rules(academy=cast.academy, changes={}, actor=cast.owner, now=NOW)
    actions = AuditEntry.objects.order_by("pk").values_list("action", flat=True)
    assert list(actions) == ["save_room", "retire_room", "change_rules"]
