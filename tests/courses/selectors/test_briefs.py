from dataclasses import replace

import pytest

from academy.errors import NotHere
from courses.selectors import briefs as find
from courses.selectors.briefs import BriefSearch
from courses.services.briefs import retire_brief, revise_brief
from tests.factories.courses import brief_content, make_brief, plain_map


def names(academy, **search):
    return [version.brief.name for version in find.newest_versions(academy, BriefSearch(**search))]


def test_only_the_newest_version_of_briefs_in_use_is_listed(cast, now):
    kept = make_brief(cast.academy, cast.ines, name="Kept")
    gone = make_brief(cast.academy, cast.ines, name="Gone")
    make_brief(cast.other_academy, cast.omar, name="Foreign")
    revise_brief(brief=kept.brief, content=brief_content(name="Kept", filaments=3), actor=cast.ines, now=now)
    retire_brief(brief=gone.brief, actor=cast.ines, now=now)
    (found,) = find.newest_versions(cast.academy)
    assert (found.brief.name, found.number, found.filaments) == ("Kept", 2, 3)
    assert [(brief.name, brief.newest_number) for brief in find.briefs(cast.academy)] == [("Kept", 2)]


def test_a_search_looks_at_name_style_shape_and_diameter(cast):
    closed = {"fan_shape": "closed", "opening_min_deg": None, "opening_max_deg": None}
    make_brief(cast.academy, cast.ines, name="Soft volume", style="volume", diameter_hundredths=5)
    make_brief(cast.academy, cast.ines, name="Wet look", style="textured", diameter_hundredths=7, **closed)
    assert names(cast.academy) == ["Soft volume", "Wet look"]
    assert names(cast.academy, style="VOL") == ["Soft volume"]
    assert names(cast.academy, style="wet") == ["Wet look"]
    assert names(cast.academy, fan_shape="closed") == ["Wet look"]
    assert names(cast.academy, diameter_hundredths=5) == ["Soft volume"]
    assert names(cast.academy, diameter_hundredths=5, fan_shape="closed") == []


def test_old_wordings_are_searched_no_more(cast, now):
    version = make_brief(cast.academy, cast.ines, style="volume", name="One")
    new = brief_content(name="One", style="hybrid")
    revise_brief(brief=version.brief, content=new, actor=cast.ines, now=now)
    assert names(cast.academy, style="volume") == []


def test_a_retired_brief_can_still_be_read_but_a_foreign_one_is_not_here(cast, now):
    mine, foreign = make_brief(cast.academy, cast.ines), make_brief(cast.other_academy, cast.omar)
    retire_brief(brief=mine.brief, actor=cast.ines, now=now)
    assert find.brief(cast.academy, mine.brief_id) == mine.brief
    with pytest.raises(NotHere):
        find.brief(cast.academy, foreign.brief_id)


def test_one_version_is_found_by_its_number(cast, now):
    brief = make_brief(cast.academy, cast.ines).brief
    revise_brief(brief=brief, content=brief_content(filaments=3), actor=cast.ines, now=now)
    assert [find.version(brief, number).filaments for number in (1, 2)] == [5, 3]
    assert [version.number for version in find.versions(brief)] == [2, 1]
    with pytest.raises(NotHere):
        find.version(brief, 3)


@pytest.mark.parametrize(
    ("nth", "minutes"), [(0, 300), (1, 300), (3, 300), (4, 240), (8, 240), (9, 180), (500, 180)]
)
def test_the_target_is_that_of_the_stage_reached(cast, nth, minutes):
    assert find.target_minutes(make_brief(cast.academy, cast.ines), nth) == minutes


def test_a_search_finds_a_fan_that_is_not_the_main_one(cast):
    open_fans, closed = plain_map(), plain_map(fan_shape="closed", filaments=3, diameter_hundredths=7)
    corner = {("both", "outer", "top"): closed.cells["both", "outer", "top"]}
    mixed = replace(open_fans, cells={**open_fans.cells, **corner})
    make_brief(cast.academy, cast.ines, name="Mixed", lash_map=mixed)
    assert names(cast.academy, fan_shape="closed") == ["Mixed"]
    assert names(cast.academy, diameter_hundredths=7) == ["Mixed"]
    assert names(cast.academy, fan_shape="closed", diameter_hundredths=7) == ["Mixed"]
    assert names(cast.academy, fan_shape="closed", diameter_hundredths=5) == []
    assert names(cast.academy, fan_shape="open", diameter_hundredths=5) == ["Mixed"]


def test_a_search_for_0_05_does_not_find_0_15_or_0_25(cast):
    make_brief(cast.academy, cast.ines, name="Classic", diameter_hundredths=15, filaments=1)
    make_brief(cast.academy, cast.ines, name="Heavy", diameter_hundredths=25, filaments=1)
    assert names(cast.academy, diameter_hundredths=5) == []
    assert names(cast.academy, diameter_hundredths=25) == ["Heavy"]


def test_a_search_looks_for_whom_a_brief_is_written(cast):
    make_brief(cast.academy, cast.ines, name="First steps", difficulty="beginner")
    make_brief(cast.academy, cast.ines, name="Open to all")
    assert names(cast.academy, difficulty="beginner") == ["First steps"]


def test_a_page_of_the_library_costs_the_same_with_1_and_60_briefs(cast, django_assert_num_queries):
    make_brief(cast.academy, cast.ines, name="Brief 00")
    with django_assert_num_queries(3):
        show(find.library_page(cast.academy, BriefSearch(), 1))
    for number in range(1, 60):
        make_brief(cast.academy, cast.ines, name=f"Brief {number:02}")
    with django_assert_num_queries(3):
        assert show(find.library_page(cast.academy, BriefSearch(), 2))[0] == ("Brief 25", 300)
    assert len(show(find.library_page(cast.academy, BriefSearch(), 99))) == 10


def show(page):
    return [(version.brief.name, find.target_minutes(version, 1)) for version in page]
