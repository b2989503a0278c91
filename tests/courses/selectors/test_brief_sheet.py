"""Everything on the sheet is reckoned from the map; the numbers here were worked out on paper."""

from dataclasses import replace

import pytest

from courses.mapping.lash_map import Cell, LengthShare, separated
from courses.models import MapGuide
from courses.selectors.brief_sheet import BriefSheet, brief_sheet, fan_words
from courses.selectors.briefs import newest_version
from tests.factories.courses import FAN, make_brief, plain_map


def sheet_of(cast, *, students=1, nth_set=1, **brief) -> BriefSheet:
    version = make_brief(cast.academy, cast.ines, **brief)
    return brief_sheet(version, MapGuide.usual(cast.academy), students=students, nth_set=nth_set)


def peaked_map():
    """Three short fillers to one long peak in every cell."""
    plain = plain_map(fan_shape="closed", filaments=3, diameter_hundredths=7)
    mix = (LengthShare(8, 75), LengthShare(12, 25))
    cells = {key: Cell(mix, cell.fan) for key, cell in plain.cells.items()}
    return replace(plain, cells=cells, textured=True)


def test_a_sheet_says_lengths_and_counts_by_zone_and_layer(cast):
    sheet = sheet_of(cast)
    assert sheet.zones == ("inner", "inner-mid", "outer-mid", "outer")
    (table,) = sheet.tables
    assert table.eye == "both eyes"
    assert [(row.layer, [cell.lengths for cell in row.cells]) for row in table.layers] == [
        ("top layer", ["9 mm", "10 mm", "11 mm", "10 mm"]),
        ("bottom layer", ["8 mm", "9 mm", "10 mm", "9 mm"]),
    ]
    # 80 lashes an eye, all covered, over 4 zones × 2 layers: 10 fans in each.
    assert {cell.fans for row in table.layers for cell in row.cells} == {10}
    assert (sheet.fans, [row.fans for row in table.layers]) == (160, [40, 40])


def test_counts_sum_to_the_plan_when_they_do_not_divide(cast):
    sheet = sheet_of(cast, coverage_percent=77)  # 61.6 of 80, to the nearest whole: 62 fans an eye
    cells = [cell for row in sheet.tables[0].layers for cell in row.cells]
    assert sum(cell.fans for cell in cells) == sheet.version.fans_per_eye == 62
    assert all(sum(fans for _, fans in cell.by_length) == cell.fans for cell in cells)


def test_a_mix_is_told_in_shares_and_in_fans(cast):
    cell = sheet_of(cast, lash_map=peaked_map()).tables[0].layers[0].cells[0]
    assert cell.lengths == "8 mm 75 %, 12 mm 25 %"
    # A quarter of 10 fans lies between 2 and 3.
    assert dict(cell.by_length)[12] in {2, 3} and sum(dict(cell.by_length).values()) == 10


def test_separate_eyes_have_a_table_each(cast):
    sheet = sheet_of(cast, lash_map=separated(plain_map()))
    assert [table.eye for table in sheet.tables] == ["left eye", "right eye"]


def test_paces_and_times_follow_from_the_target(cast):
    sheet = sheet_of(cast, nth_set=4)
    # 2 eyes × 80 lashes, all covered: 160 fans; 300 min × 60 ÷ 160 = 112.5 s on paper.
    assert [stage.pace.rsplit("= ")[-1] for stage in sheet.stages] == [
        "112.5 s a fan",
        "90 s a fan",
        "67.5 s a fan",
    ]
    # The 4th set has 240 min, 5 of them for the check: the last zone is done after 235 min.
    assert (sheet.stage.minutes, sheet.check_minutes) == (240, 5)
    assert (len(sheet.times), sheet.times[-1].done_by) == (16, "3:55:00")
    # 10 fans × 235 min × 60 ÷ 160 = 881.25 s
    assert sheet.times[0].lasts == "14 min 41 s"


def test_a_target_too_short_for_the_check_keeps_a_minute_to_work(cast):
    assert sheet_of(cast, targets=((1, 5),)).check_minutes == 4


def test_a_fan_within_both_limits_names_the_lower(cast):
    (load,) = sheet_of(cast).loads
    # 5 × 0.05² = 0.0125 mm² beside 0.15² = 0.0225 mm²: 55.6 %; the ceiling is 225 // 25 = 9.
    assert (load.ruling.percent, load.ruling.arithmetic_ceiling, load.is_over) == (56, 9, False)
    assert load.ceiling_words == "15² ÷ 5² = 225 ÷ 25, whole part 9"
    # Seven of 0.05 as the programme's limit: common practice, no source.
    assert load.ruling_words == (
        "Arithmetic ceiling 9 filaments; programme limit 7; the programme rules: at most 7."
    )


@pytest.mark.parametrize(
    ("filaments", "diameter", "percent", "is_over"),
    # Errors of published trade tables: six 0.05 are not twice a 0.15 single, nine 0.07 not equal to one.
    [(6, 5, 67, False), (9, 7, 196, True)],
)
def test_published_errors_are_not_repeated(cast, filaments, diameter, percent, is_over):
    (load,) = sheet_of(cast, filaments=filaments, diameter_hundredths=diameter).loads
    assert (load.ruling.percent, load.is_over) == (percent, is_over)


def test_a_mix_weighs_by_its_mean_length_and_each_build_has_its_line(cast):
    plain, peaked = plain_map(), peaked_map()
    top = {key: cell for key, cell in peaked.cells.items() if key[2] == "top"}
    loads = sheet_of(cast, lash_map=replace(peaked, cells={**plain.cells, **top})).loads
    assert [load.where.count("top layer") for load in loads] == [4, 0]
    (mix,) = loads[0].mixes
    # 3 × 0.07² × 9 mm mean = 0.1323 beside 0.15² × 12 mm = 0.27: exactly 49 %; for equal lengths 147 ÷ 225.
    assert (mix.percent, loads[0].ruling.percent) == (49, 65)
    # A 0.07 × 10 mm cylinder of PBT at 1.31 mg/mm³ is 0.0504 mg: three of 9 mm are 0.0504 × 2.7.
    assert mix.mass_mg == pytest.approx(0.0504 * 2.7, rel=0.002)


def test_findings_come_with_their_reasons_and_their_notes(cast):
    lengths = dict(plain_map().cells)
    steep = replace(
        plain_map(), cells={**lengths, ("both", "outer", "top"): Cell((LengthShare(14, 100),), FAN)}
    )
    version = make_brief(cast.academy, cast.ines, lash_map=steep, name="Steep")
    found = brief_sheet(version, MapGuide.usual(cast.academy)).findings
    step = next(each for each in found if each.code == "zone_step")
    noted = make_brief(cast.academy, cast.ines, lash_map=steep, name="Noted", silenced={step.key: "a wing"})
    sheet = brief_sheet(noted, MapGuide.usual(cast.academy))
    assert [each.silenced_note for each in sheet.silenced_findings] == ["a wing"]
    assert {each.code for each in sheet.open_findings} == {each.code for each in found} - {"zone_step"}


def test_a_beginners_brief_hints_at_fine_closed_fans(cast):
    fine = {"fan_shape": "closed", "diameter_hundredths": 3}
    for difficulty, hinted in (("beginner", True), ("advanced", False), ("", False)):
        sheet = sheet_of(cast, name=f"Fine {difficulty}", difficulty=difficulty, **fine)
        assert ("fine_closed_fan" in {each.code for each in sheet.findings}) is hinted


def test_supplies_grow_with_the_students(cast):
    one, ten = sheet_of(cast).supplies, sheet_of(cast, name="Ten", students=10).supplies
    # 160 fans of 5 filaments; 300 min with a fresh drop each 20 min.
    assert sum(need.filaments for need in one.filaments) == 800
    assert sum(need.filaments for need in ten.filaments) == 8000
    assert (one.adhesive_drops, ten.adhesive_drops) == (15, 150)


def test_a_fan_is_told_in_the_words_of_the_trade():
    assert fan_words(FAN) == "open fan 30–50°, 5 × 0.05 mm, curl C"
    single = replace(FAN, filaments=1, diameter_hundredths=15)
    assert fan_words(single) == "single extension, 0.15 mm, curl C"


def test_a_complete_version_costs_no_further_query(cast, django_assert_num_queries):
    version = newest_version(make_brief(cast.academy, cast.ines).brief)
    guide = MapGuide.usual(cast.academy)
    with django_assert_num_queries(0):
        brief_sheet(version, guide)
