"""Settings and cohorts: what is typed wrong comes back with a sentence, and nothing typed is lost."""

from datetime import date

import pytest
from django.urls import reverse
from pytest_django.asserts import assertContains, assertRedirects

from academy.models import Academy, Cohort
from academy.services.academies import details_of

pytestmark = pytest.mark.django_db
SETTINGS = "/academy/"


def sent(academy, **changes):
    fields = {name: getattr(details_of(academy), name) for name in details_of(academy).__slots__}
    return {**fields, **changes}


def test_settings_are_saved(cast, client_for):
    answer = client_for(cast.owner).post(
        SETTINGS, sent(cast.academy, time_zone="Europe/Lisbon", drill_days=10)
    )
    assertRedirects(answer, SETTINGS)
    academy = Academy.objects.get(pk=cast.academy.pk)
    assert (academy.time_zone, academy.drill_days) == ("Europe/Lisbon", 10)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"time_zone": "Saltby"}, "is not a time zone we know"),
        ({"room_c_high": "19"}, "The upper end of the range is below the lower end"),
        ({"room_rh_high": "101"}, "This is too large. Enter 100 or less."),
        ({"adhesive_days": "0"}, "This is too small. Enter 1 or more."),
        ({"drill_days": "soon"}, "This is no whole number."),
        ({"room_c_low": "NaN"}, "This is no number."),
        ({"name": "x" * 121}, "This has 121 characters. Shorten it to 120."),
        ({"name": ""}, "Fill this in."),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_nothing_typed_is_lost(cast, client_for, wrong, sentence):
    answer = client_for(cast.owner).post(SETTINGS, sent(cast.academy, **{"town": "Newly typed", **wrong}))
    assertContains(answer, sentence)
    assertContains(answer, "Newly typed")
    assert Academy.objects.get(pk=cast.academy.pk).town == "Saltby"


def test_a_cohort_is_added(cast, client_for):
    answer = client_for(cast.owner).post(
        "/people/cohorts/new/", {"name": "Autumn day", "starts_on": "2026-09-07", "ends_on": ""}
    )
    assertRedirects(answer, "/people/")
    cohort = Cohort.objects.get(name="Autumn day")
    assert (cohort.academy, cohort.starts_on, cohort.ends_on) == (cast.academy, date(2026, 9, 7), None)


def test_a_cohort_is_changed_and_its_dates_are_in_the_form(cast, client_for):
    url = reverse("academy:cohort-edit", args=[cast.cohort.pk])
    client = client_for(cast.owner)
    assertContains(client.get(url), 'value="2026-01-12"')
    assertRedirects(client.post(url, {"name": "Winter", "starts_on": "2026-01-12"}), "/people/")
    assert Cohort.objects.get(pk=cast.cohort.pk).name == "Winter"


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"name": "Spring evening"}, "There is already a cohort called"),
        ({"ends_on": "2026-09-06"}, "The cohort ends before it starts"),
        ({"starts_on": "2026-02-30"}, "This is no day."),
        ({"name": "x" * 81}, "This has 81 characters. Shorten it to 80."),
    ],
)
def test_a_cohort_that_cannot_be_is_refused_in_words(cast, client_for, wrong, sentence):
    typed = {"name": "Autumn day", "starts_on": "2026-09-07", "ends_on": "", **wrong}
    answer = client_for(cast.owner).post("/people/cohorts/new/", typed)
    assertContains(answer, sentence)
    assert Cohort.objects.count() == 1
