import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses.forms.briefs import BriefForm
from courses.models import BriefVersion, SetBrief
from courses.selectors.briefs import newest_version
from courses.services.briefs import content_of, revise_brief
from tests.factories.courses import brief_content, make_brief


def typed(content=None, base=None, **changes):
    """What a browser sends for this content."""
    initial = BriefForm.initial_of(content or brief_content(), base or 1)
    if base is None:
        del initial["base"]
    return {name: str(value) for name, value in initial.items() if value is not None} | changes


def test_the_form_reads_back_every_part_of_a_brief(cast):
    form = BriefForm(typed())
    assert form.is_valid(), form.errors
    assert form.content() == brief_content()


def test_a_brief_is_made_and_shown(cast, client_for):
    client = client_for(cast.ines)
    response = client.post(reverse("courses:brief-new"), typed())
    made = BriefVersion.objects.get()
    assert response.url == reverse("courses:brief", args=[made.brief_id])
    assert content_of(newest_version(made.brief)) == brief_content()
    text = client.get(response.url).content.decode()
    assert "300 min × 60 ÷ 160 fans = 112.5 s a fan" in text
    assert "15² ÷ 5² = 225 ÷ 25, whole part 9" in text
    assert "From the 4th set" in text
    assert "30° to 50°" in text
    assert 'class="eye"' in text


def test_a_revision_leaves_the_old_version_readable(cast, client_for):
    brief = make_brief(cast.academy, cast.ines).brief
    client = client_for(cast.second)
    page = client.get(reverse("courses:brief-edit", args=[brief.pk])).content.decode()
    assert "Saving makes version 2. Sets already opened keep version 1" in page
    client.post(reverse("courses:brief-edit", args=[brief.pk]), typed(base=1, filaments="4"))
    assert newest_version(brief).number == 2
    old = client.get(reverse("courses:brief", args=[brief.pk]) + "?version=1").content.decode()
    assert "5 × 0.05 mm" in old
    assert "Version 2 is newer" in old


def test_two_people_who_revise_at_once_are_told_once(cast, client_for):
    brief = make_brief(cast.academy, cast.ines).brief
    revise_brief(brief=brief, content=brief_content(filaments=4), actor=cast.second, now=brief_now(brief))
    client, url = client_for(cast.ines), reverse("courses:brief-edit", args=[brief.pk])
    page = client.post(url, typed(base=1, filaments="3"))
    text = page.content.decode()
    assert "Somebody made version 2 meanwhile." in text
    assert re.search(r'name="base" value="2"', text)
    assert re.search(r'name="filaments" value="3"', text)
    assert client.post(url, typed(base=2, filaments="3")).status_code == 302
    assert newest_version(brief).filaments == 3


def brief_now(brief):
    return newest_version(brief).created_at


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"opening_min_deg": ""}, "An open fan needs a target opening"),
        ({"opening_min_deg": "70"}, "The opening is from 70° to 50°. Give the smaller first"),
        ({"fan_shape": "spike"}, "Only an open fan has a target opening."),
        ({"length_top_inner": ""}, "Give the length for inner, top layer."),
        ({"length_top_inner": "4"}, "greater than or equal to 5"),
        ({"minutes_1": "310"}, "From set 4 the target is 310 min, not below the 300 min before."),
        ({"minutes_1": ""}, "Fill in both the set number and the minutes, or empty both."),
        ({"from_0": "2"}, "Give a target time from the 1st set on."),
        ({"coverage_percent": "5"}, "greater than or equal to 10"),
        ({"curl": "Q"}, "Q is not one of the available choices"),
    ],
)
def test_what_is_wrong_gets_a_sentence_and_nothing_typed_is_lost(cast, client_for, changes, sentence):
    page = client_for(cast.ines).post(reverse("courses:brief-new"), typed(notes="mind the corner", **changes))
    text = page.content.decode()
    assert page.status_code == 200
    assert sentence in text
    assert "mind the corner" in text
    assert 'name="length_bottom_outer" value="9"' in text
    assert not SetBrief.objects.exists()


def test_a_taken_name_is_said_at_the_name(cast, client_for):
    make_brief(cast.academy, cast.ines)
    page = client_for(cast.ines).post(reverse("courses:brief-new"), typed())
    assert page.context["form"].errors["name"] == [
        "There is already a brief named Soft volume. Choose another name."
    ]


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
    assert "Enter a whole number." in page.content.decode()


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


@pytest.mark.parametrize("name", ["courses:brief", "courses:brief-edit", "courses:brief-retire"])
def test_a_foreign_brief_is_not_here_and_students_are_refused(cast, client_for, name):
    url = reverse(name, args=[make_brief(cast.academy, cast.ines).brief_id])
    assert client_for(cast.omar).get(url).status_code == 404
    assert client_for(cast.ada).get(url).status_code == 403


def test_nobody_changes_a_foreign_brief_by_sending_the_form(cast, client_for):
    brief = make_brief(cast.academy, cast.ines).brief
    for name in ("courses:brief-edit", "courses:brief-retire"):
        url = reverse(name, args=[brief.pk])
        assert client_for(cast.omar).post(url, typed(base=1, filaments="2")).status_code == 404
        assert client_for(cast.ada).post(url, typed(base=1, filaments="2")).status_code == 403
    brief.refresh_from_db()
    assert (brief.retired_at, newest_version(brief).number) == (None, 1)


@pytest.mark.parametrize("number", ["9", "99999999999999999999"])
def test_a_version_that_never_was_is_not_here(cast, client_for, number):
    url = reverse("courses:brief", args=[make_brief(cast.academy, cast.ines).brief_id])
    assert client_for(cast.ines).get(url, {"version": number}).status_code == 404
