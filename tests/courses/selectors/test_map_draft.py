from courses.mapping.lash_map import Fan, separated
from courses.models import MapGuide
from courses.selectors.map_draft import map_draft
from tests.courses.mapping.maps import soft_volume, texture

GUIDE = MapGuide(programme_limits={"5": 7})


def draft(lash_map, **changes):
    return map_draft(lash_map, GUIDE, **{"lashes": (80, 100), **changes})


def test_counts_add_up_to_the_fans_of_an_eye():
    found = draft(soft_volume())
    assert found.fans_per_eye == 80  # 80 lashes, all of them covered
    assert [row.total for row in found.counts] == [40, 40]
    assert [sum(fans for fans, _ in row.cells) for row in found.counts] == [40, 40]


def test_a_mix_is_told_in_fans_of_each_length():
    (row,) = draft(texture((8, 70), (12, 30)), lashes=(40, 100)).counts
    assert row.cells[0] == (10, "7 × 8 mm, 3 × 12 mm")  # 70 % and 30 % of ten fans


def test_separate_eyes_are_counted_apart():
    assert [row.eye for row in draft(separated(texture((9, 100)))).counts] == ["left eye", "right eye"]


def test_findings_come_with_the_notes_that_silence_them():
    lash_map = soft_volume(inner_top=12)
    (key,) = {each.key for each in draft(lash_map).findings if each.code == "corner_long"}
    noted = draft(lash_map, silenced={key: "wanted"}).findings
    assert [each.silenced_note for each in noted if each.key == key] == ["wanted"]


def test_beginners_get_a_hint_about_fine_closed_fans():
    """A thicker filament closes more easily: common practice, no source."""
    fine = texture((8, 70), (12, 30), fan=Fan("closed", 5, 3, "C"))
    assert "fine_closed_fan" not in {each.code for each in draft(fine).findings}
    assert "fine_closed_fan" in {each.code for each in draft(fine, difficulty="beginner").findings}


def test_the_guide_of_the_academy_rules_the_load():
    """n·d² against one 0.15 mm single: 6 × 0.05² ÷ 0.15² = 67 %."""
    (load,) = draft(soft_volume()).loads
    assert (load.ruling.percent, load.ruling.most) == (67, 7)
