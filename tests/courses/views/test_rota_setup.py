"""Rooms, kinds, hours and rules as the owner enters them."""

from datetime import time

import pytest
from django.urls import reverse

from courses.models import ClosedDay, OpeningHours, Room, RotaRules, SessionKind, TimeAway, WorkingHours
from courses.services import bookings as services
from courses.services.bookings import book
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, coming, make_rota, place_for

SETUP = reverse("courses:rota-setup")


@pytest.fixture(autouse=True)
def _no_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)


def hours(**given: str) -> dict[str, str]:
    empty = {f"{end}_{day}_{nth}": "" for end in ("starts", "ends") for day in range(7) for nth in range(2)}
    return empty | given


def test_a_room_is_entered_with_its_benches(cast: Cast, client_for):
    client = client_for(cast.owner)
    client.post(reverse("courses:room-new"), {"name": "Back room", "benches": "Window\n\nDoor\n"})
    assert "Door, Window" in client.get(SETUP).content.decode()


def test_a_refused_room_keeps_what_was_typed(cast: Cast, client_for):
    client, url = client_for(cast.owner), reverse("courses:room-new")
    for benches, sentence in (("Door\ndoor", "Two benches have the same name."), ("x" * 41, "is too long")):
        page = client.post(url, {"name": "Back room", "benches": benches}).content.decode()
        assert sentence in page and "Back room" in page and benches in page
    assert not Room.objects.exists()


def test_a_booked_room_is_not_retired(cast: Cast, client_for):
    rota = make_rota(cast)
    book(place=place_for(cast, rota, starts_at=coming()), actor=cast.ines, live_allowed=False, now=MADE_AT)
    url = reverse("courses:room-retire", args=[rota.room.pk])
    page = client_for(cast.owner).post(url, follow=True).content.decode()
    assert "Bench 1 is still booked. Move or cancel its bookings first." in page
    rota.room.refresh_from_db()
    assert rota.room.retired_at is None


def test_a_kind_of_session_is_entered_changed_and_retired(cast: Cast, client_for):
    client = client_for(cast.owner)
    typed = {"name": "Evening bench", "form": "supervised_bench", "minutes": 90, "capacity": 2}
    client.post(reverse("courses:kind-new"), typed)
    kind = SessionKind.objects.get()
    client.post(reverse("courses:kind-edit", args=[kind.pk]), typed | {"minutes": 120})
    kind.refresh_from_db()
    assert kind.minutes == 120
    taken = client.post(reverse("courses:kind-new"), typed | {"name": "evening BENCH"}).content.decode()
    assert "There is already a kind of session named evening BENCH" in taken
    page = client.post(reverse("courses:kind-retire", args=[kind.pk]), follow=True).content.decode()
    assert "Evening bench is no longer offered. What is booked stays." in page
    assert reverse("courses:kind-edit", args=[kind.pk]) not in page


def test_opening_hours_are_entered_with_a_break(cast: Cast, client_for):
    typed = hours(starts_0_0="09:00", ends_0_0="12:00", starts_0_1="13:00", ends_0_1="17:00")
    assert client_for(cast.owner).post(reverse("courses:rota-opening"), typed)["Location"] == SETUP
    assert [(row.starts, row.ends) for row in OpeningHours.objects.all()] == [
        (time(9), time(12)),
        (time(13), time(17)),
    ]


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"starts_2_0": "09:00"}, "Enter both times for Wednesday, or leave both empty."),
        ({"starts_2_0": "12:00", "ends_2_0": "09:00"}, "On Wednesday the end is not after the start."),
        (
            {"starts_2_0": "09:00", "ends_2_0": "12:00", "starts_2_1": "11:00", "ends_2_1": "13:00"},
            "The two times on Wednesday overlap.",
        ),
    ],
)
def test_refused_hours_keep_what_was_typed(cast: Cast, client_for, typed: dict[str, str], sentence: str):
    page = client_for(cast.owner).post(reverse("courses:rota-opening"), hours(**typed))
    assert sentence in page.content.decode()
    assert {name: page.context["form"][name].value() for name in typed} == typed
    assert not OpeningHours.objects.exists()


def test_an_educator_has_hours_skills_and_days_away(cast: Cast, client_for):
    make_rota(cast)
    WorkingHours.objects.all().delete()
    client, url = client_for(cast.owner), reverse("courses:rota-educator", args=[cast.ines.pk])
    skill = cast.ines.taught_skills.all()[0].skill
    client.post(url, hours(starts_1_0="10:00", ends_1_0="14:00") | {"skills": [skill.pk]})
    assert [str(row) for row in cast.ines.working_hours.all()] == ["Tuesday 10:00–14:00"]
    assert [each.skill for each in cast.ines.taught_skills.all()] == [skill]
    away = reverse("courses:rota-away", args=[cast.ines.pk])
    wrong = client.post(away, {"first_on": "2026-12-24", "last_on": "2026-12-20"}).content.decode()
    assert "The last day is before the first." in wrong and "2026-12-24" in wrong
    client.post(away, {"first_on": "2026-12-24", "last_on": "2026-12-31"})
    client.post(reverse("courses:rota-away-drop", args=[TimeAway.objects.get().pk]))
    assert "No days away are entered" in client.get(url).content.decode()


def test_a_day_is_closed_and_opened_again(cast: Cast, client_for):
    client, day = client_for(cast.owner), coming().date()
    wrong = client.post(reverse("courses:day-close"), {"on": "", "reason": "Deep clean"}).content.decode()
    assert "Deep clean" in wrong and not ClosedDay.objects.exists()
    client.post(reverse("courses:day-close"), {"on": day, "reason": "Deep clean"})
    assert "Deep clean" in client.get(reverse("courses:rota"), {"day": day}).content.decode()
    client.post(reverse("courses:day-open", args=[ClosedDay.objects.get().pk]))
    assert not ClosedDay.objects.exists()


def test_rules_are_changed_and_a_refusal_keeps_what_was_typed(cast: Cast, client_for):
    client, url = client_for(cast.owner), reverse("courses:rota-rules")
    typed = {
        "notice_hours": "24",
        "days_ahead": "28",
        "open_bookings": "3",
        "spacing_days_low": "9",
        "spacing_days_high": "5",
        "long_minutes": "120",
    }
    page = client.post(url, typed)
    assert "The fewest days between sessions are more than the most." in page.content.decode()
    assert {name: page.context["form"][name].value() for name in typed} == typed
    assert not RotaRules.objects.exists()
    client.post(url, typed | {"spacing_days_low": "2"})
    assert "24 hours of notice" in client.get(SETUP).content.decode()
