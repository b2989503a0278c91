from courses.selectors.brief_sheet import brief_sheet
from courses.selectors.briefs import newest_version
from tests.factories.courses import make_brief


def test_a_sheet_says_lengths_paces_and_relative_load(cast):
    sheet = brief_sheet(make_brief(cast.academy, cast.ines))
    assert sheet.zones == ("inner", "inner-mid", "outer-mid", "outer")
    assert [(row.layer, row.lengths_mm) for row in sheet.rows] == [
        ("top layer", (9, 10, 11, 10)),
        ("bottom layer", (8, 9, 10, 9)),
    ]
    # 2 eyes × 80 lashes, all covered: 160 fans; 300 min × 60 ÷ 160 = 112.5 s on paper.
    assert sheet.fans == 160
    assert [stage.pace.rsplit("= ")[-1] for stage in sheet.stages] == [
        "112.5 s a fan",
        "90 s a fan",
        "67.5 s a fan",
    ]
    # 5 × 0.05² = 0.0125 mm² beside 0.15² = 0.0225 mm²: 55.6 %; the ceiling is 225 // 25.
    assert (sheet.load.ceiling, sheet.load.percent, sheet.load.is_over) == (9, 56, False)


def test_a_fan_over_the_arithmetic_ceiling_says_so(cast):
    sheet = brief_sheet(make_brief(cast.academy, cast.ines, diameter_hundredths=7, filaments=9))
    assert (sheet.load.ceiling, sheet.load.percent, sheet.load.is_over) == (4, 196, True)


def test_a_complete_version_costs_no_further_query(cast, django_assert_num_queries):
    version = newest_version(make_brief(cast.academy, cast.ines).brief)
    with django_assert_num_queries(0):
        brief_sheet(version)
