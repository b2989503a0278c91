import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.factories.courses import make_brief


def test_the_list_is_searched_and_shows_the_target_of_a_stage(cast, client_for):
    make_brief(cast.academy, cast.ines, name="Soft volume")
    make_brief(cast.academy, cast.ines, name="Classic", style="classic", diameter_hundredths=15, filaments=1)
    client = client_for(cast.ines)
    page = client.get(reverse("courses:brief-list"), {"diameter_hundredths": "5", "nth": "4"})
    assert [(version.brief.name, minutes) for version, minutes in page.context["rows"]] == [
        ("Soft volume", 240)
    ]
    none = client.get(reverse("courses:brief-list"), {"style": "mega"}).content.decode()
    assert "No brief found" in none


def test_a_search_that_makes_no_sense_shows_everything_with_a_sentence(cast, client_for):
    make_brief(cast.academy, cast.ines)
    page = client_for(cast.ines).get(reverse("courses:brief-list"), {"nth": "minus"})
    assert len(page.context["rows"]) == 1
    assert "This is no whole number." in page.content.decode()


def test_the_list_costs_the_same_with_1_and_20_briefs(cast, client_for):
    client = client_for(cast.ines)

    def queries():
        with CaptureQueriesContext(connection) as seen:
            client.get(reverse("courses:brief-list"))
        return len(seen)

    make_brief(cast.academy, cast.ines, name="Brief 0")
    client.get(reverse("courses:brief-list"))
    with_one = queries()
    for number in range(1, 20):
        make_brief(cast.academy, cast.ines, name=f"Brief {number}")
    assert queries() == with_one


def test_without_briefs_the_list_says_what_to_do(cast, client_for):
    text = client_for(cast.ines).get(reverse("courses:brief-list")).content.decode()
    assert "No briefs yet" in text


def test_a_brief_is_retired(cast, client_for):
    brief = make_brief(cast.academy, cast.ines).brief
    client = client_for(cast.owner)
    assert client.get(reverse("courses:brief-retire", args=[brief.pk])).status_code == 200
    client.post(reverse("courses:brief-retire", args=[brief.pk]))
    assert "Retired on" in client.get(reverse("courses:brief", args=[brief.pk])).content.decode()
    again = client.post(reverse("courses:brief-retire", args=[brief.pk])).content.decode()
    assert "is retired and kept only for the records" in again


@pytest.mark.parametrize("name", ["courses:brief", "courses:brief-retire"])
def test_a_foreign_brief_is_not_here_and_students_are_refused(cast, client_for, name):
    url = reverse(name, args=[make_brief(cast.academy, cast.ines).brief_id])
    assert client_for(cast.omar).get(url).status_code == 404
    assert client_for(cast.ada).get(url).status_code == 403


@pytest.mark.parametrize("number", ["9", "99999999999999999999"])
def test_a_version_that_never_was_is_not_here(cast, client_for, number):
    url = reverse("courses:brief", args=[make_brief(cast.academy, cast.ines).brief_id])
    assert client_for(cast.ines).get(url, {"version": number}).status_code == 404
