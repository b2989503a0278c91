import re

import pytest
from django.urls import reverse

from courses.models import SetBrief
from courses.selectors.briefs import BRIEFS_A_PAGE, newest_version
from courses.services.briefs import content_of, retire_brief
from tests.factories.courses import MADE_AT, brief_content, make_brief

LIST = reverse("courses:brief-list")


def names(page):
    return [version.brief.name for version, _ in page.context["rows"]]


@pytest.fixture
def three(cast):
    make_brief(cast.academy, cast.ines, name="Soft volume", difficulty="practised")
    make_brief(cast.academy, cast.ines, name="Singles", style="classic", diameter_hundredths=15, filaments=1)
    make_brief(
        cast.academy,
        cast.ines,
        name="Peaks",
        style="textured",
        fan_shape="closed",
        diameter_hundredths=7,
        filaments=3,
        difficulty="beginner",
    )


@pytest.mark.parametrize(
    ("search", "found"),
    [
        ({}, ["Peaks", "Singles", "Soft volume"]),
        ({"style": "CLASS"}, ["Singles"]),
        ({"style": "soft"}, ["Soft volume"]),
        ({"fan_shape": "closed"}, ["Peaks"]),
        ({"diameter_hundredths": "5"}, ["Soft volume"]),
        ({"difficulty": "beginner"}, ["Peaks"]),
        ({"fan_shape": "closed", "diameter_hundredths": "5"}, []),
    ],
)
def test_briefs_are_found_by_style_shape_diameter_and_difficulty(three, cast, client_for, search, found):
    assert names(client_for(cast.ines).get(LIST, search)) == found


def test_every_brief_shows_its_map_and_the_ways_on(three, cast, client_for):
    text = client_for(cast.ines).get(LIST).content.decode()
    assert text.count('class="map-thumbnail"') == 3
    for words in (
        "Volume: open fan 30–50°, 5 × 0.05 mm, curl C.",
        "Classic: single extensions of 0.15 mm, curl C.",
        "Textured: closed fan, 3 × 0.07 mm, curl C.",
    ):
        assert words in text
    assert "Left eye, from the nose outwards. Top layer: inner 9 mm" in text
    for brief in SetBrief.objects.all():
        for way in ("brief", "brief-copy", "brief-retire"):
            assert f'href="{reverse(f"courses:{way}", args=[brief.pk])}"' in text


def test_only_the_owner_is_led_to_the_guide(three, cast, client_for):
    link = f'href="{reverse("courses:map-guide")}"'
    assert link in client_for(cast.owner).get(LIST).content.decode()
    assert link not in client_for(cast.ines).get(LIST).content.decode()


def test_a_long_library_comes_in_pages_that_keep_the_search(cast, client_for):
    for nth in range(BRIEFS_A_PAGE + 1):
        make_brief(cast.academy, cast.ines, name=f"Brief {nth:02d}")
    client = client_for(cast.ines)
    first = client.get(LIST, {"style": "brief", "nth": "4"})
    link = re.search(r'rel="next" href="([^"]+)"', first.content.decode())[1].replace("&amp;", "&")
    second = client.get(LIST + link)
    assert len(names(first)) == BRIEFS_A_PAGE
    assert names(second) == [f"Brief {BRIEFS_A_PAGE:02d}"]
    assert [minutes for _, minutes in second.context["rows"]] == [240]


def test_a_page_beyond_the_last_is_the_last(three, cast, client_for):
    assert len(names(client_for(cast.ines).get(LIST, {"page": "99"}))) == 3


def test_an_empty_library_says_what_to_do(cast, client_for):
    assert "No briefs yet" in client_for(cast.ines).get(LIST).content.decode()


def test_a_search_that_finds_nothing_keeps_its_form(three, cast, client_for):
    text = client_for(cast.ines).get(LIST, {"style": "mega"}).content.decode()
    assert "No brief found" in text and 'value="mega"' in text


def test_a_copy_has_everything_but_the_name_and_opens_in_the_editor(cast, client_for):
    original = make_brief(cast.academy, cast.ines, notes="Mind the corner.")
    answer = client_for(cast.second).post(
        reverse("courses:brief-copy", args=[original.brief_id]), {"name": "Softer volume"}
    )
    copy = SetBrief.objects.get(name="Softer volume")
    assert answer.url == reverse("courses:brief-edit", args=[copy.pk])
    assert content_of(newest_version(copy)) == brief_content(name="Softer volume", notes="Mind the corner.")


def test_a_retired_brief_can_be_copied(cast, client_for):
    original = make_brief(cast.academy, cast.ines)
    retire_brief(brief=original.brief, actor=cast.ines, now=MADE_AT)
    client_for(cast.ines).post(reverse("courses:brief-copy", args=[original.brief_id]), {"name": "Again"})
    assert SetBrief.objects.get(name="Again").retired_at is None


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("", "Fill this in."),
        ("soft VOLUME", "There is already a brief named soft VOLUME. Choose another name."),
    ],
)
def test_a_copy_needs_a_name_of_its_own(cast, client_for, name, sentence):
    original = make_brief(cast.academy, cast.ines)
    page = client_for(cast.ines).post(reverse("courses:brief-copy", args=[original.brief_id]), {"name": name})
    assert sentence in page.content.decode()
    assert SetBrief.objects.count() == 1
