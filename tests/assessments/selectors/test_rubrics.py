import pytest

from academy.errors import NotHere
from assessments.selectors import rubrics as find
from tests.factories.courses import make_brief
from tests.factories.rubrics import rubric_draft, starter_rubric


@pytest.fixture
def starter(cast):
    return starter_rubric(cast.academy, cast.owner)


def test_versions_of_this_academy_come_newest_first(cast, starter):
    draft = rubric_draft(cast.academy, cast.owner)
    starter_rubric(cast.other_academy, cast.omar)
    assert [(each.pk, each.criteria_count) for each in find.versions(cast.academy)] == [
        (draft.pk, 14),
        (starter.pk, 14),
    ]
    assert list(find.published_versions(cast.academy)) == [starter]
    assert find.draft_of(starter.rubric) == draft


def test_a_version_comes_whole_in_four_queries(cast, starter, django_assert_num_queries):
    with django_assert_num_queries(4):
        version = find.version(cast.academy, starter.pk)
        for criterion in version.criteria.all():
            assert (criterion.skill.name, len(criterion.descriptors.all())) != ("", 0)
        assert len(version.hygiene_lines.all()) == 10
        assert (version.rubric.name, version.published_by.user.name) == ("Starter rubric", "Wren Adair")


def test_students_see_no_draft(cast, starter):
    draft = rubric_draft(cast.academy, cast.owner)
    assert find.version_for(cast.ines, draft.pk) == draft
    assert find.version_for(cast.ada, starter.pk) == starter
    with pytest.raises(NotHere):
        find.version_for(cast.ada, draft.pk)


def test_foreign_rows_are_not_here(cast, starter):
    with pytest.raises(NotHere):
        find.version(cast.other_academy, starter.pk)
    with pytest.raises(NotHere):
        find.version_for(cast.omar, starter.pk)
    with pytest.raises(NotHere):
        find.criterion(cast.other_academy, starter.criteria.all()[0].pk)
    assert find.rubric(cast.other_academy, "Starter rubric") is None


def test_without_a_published_rubric_it_says_who_can_help(cast):
    brief = make_brief(cast.academy, cast.ines).brief
    with pytest.raises(find.NoRubricYet, match="The owner publishes one under Rubrics"):
        find.rubric_for(brief)
    assert find.chosen_version_id(brief) is None
