from assessments.models import Criterion
from assessments.selectors.rubric_sheet import rubric_sheet
from assessments.selectors.rubrics import version
from tests.factories.rubrics import rubric_draft, starter_rubric


def test_each_criterion_shows_its_bands_and_words_from_level_4_down(cast, django_assert_num_queries):
    found = version(cast.academy, starter_rubric(cast.academy, cast.owner).pk)
    with django_assert_num_queries(0):
        sheet = rubric_sheet(found)
    isolation = sheet[0]
    assert isolation.kind == "Counted on inspected fans"
    assert [(row.level, row.band) for row in isolation.levels] == [
        (4, "none of 40 stuck"),
        (3, "1 of 40 stuck"),
        (2, "2 of 40 stuck"),
        (1, "3 to 6 of 40 stuck"),
        (0, "7 or more of 40 stuck"),
    ]
    assert isolation.levels[0].text == "None stuck; tweezers pass everywhere"
    assert {each.problem for each in sheet} == {""}


def test_a_rule_that_cannot_be_read_is_shown_as_a_problem_and_not_as_an_error(cast):
    draft = rubric_draft(cast.academy, cast.owner)
    Criterion.objects.filter(version=draft, code="isolation").update(rule={})
    first = rubric_sheet(version(cast.academy, draft.pk))[0]
    assert "missing" in first.problem
    assert [row.band for row in first.levels] == [""] * 5
