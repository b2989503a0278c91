from datetime import timedelta

import pytest
from django.urls import reverse

from courses.models import FreeException, FreeHours
from tests.factories.academy import Cast
from tests.factories.rota import coming, make_rota

PAGE = reverse("courses:free-times")


def test_a_week_is_tapped_and_shown_again(cast: Cast, client_for):
    make_rota(cast)
    client = client_for(cast.ada)
    client.post(PAGE, {"free": ["0-9", "0-10", "4-16"]})
    assert [str(row) for row in FreeHours.objects.all()] == ["Monday 09:00–11:00", "Friday 16:00–17:00"]
    page = client.get(PAGE).content.decode()
    assert page.count(" checked") == 3
    client.post(PAGE, {})
    assert not FreeHours.objects.exists()


@pytest.mark.parametrize("sent", ["7-9", "0-24", "0", "", "0-09", "-1-9", "0-9-9", "0-" + "9" * 5000, "٣-9"])
def test_what_is_neither_a_day_nor_an_hour_is_left_out(cast: Cast, client_for, sent: str):
    assert client_for(cast.ada).post(PAGE, {"free": [sent, "1-9"]}).status_code == 302
    assert [str(row) for row in FreeHours.objects.all()] == ["Tuesday 09:00–10:00"]


def test_a_day_that_differs_is_added_and_removed(cast: Cast, client_for):
    client, day = client_for(cast.ada), coming().date()
    client.post(reverse("courses:free-exception"), {"on": day, "starts": "09:00", "ends": "12:00"})
    row = FreeException.objects.get()
    assert "free from 09:00 until 12:00" in client.get(PAGE).content.decode()
    client.post(reverse("courses:free-exception-drop", args=[row.pk]))
    assert "None so far" in client.get(PAGE).content.decode()


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"starts": "12:00", "ends": "09:00"}, "Until must be later than from."),
        ({"starts": "12:00", "ends": ""}, "Until must be later than from."),
        ({"on": "2020-01-06"}, "This day is over."),
        ({"on": ""}, "Fill this in."),
    ],
)
def test_a_refusal_keeps_what_was_typed(cast: Cast, client_for, typed: dict[str, str], sentence: str):
    given = {"on": (coming() + timedelta(days=1)).date().isoformat(), "starts": "08:15", "ends": "", **typed}
    page = client_for(cast.ada).post(reverse("courses:free-exception"), given)
    assert sentence in page.content.decode()
    assert {name: page.context["form"][name].value() for name in given} == given
    assert not FreeException.objects.exists()
