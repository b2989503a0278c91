"""Every rule here is common practice, no source."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from courses.mapping.checks import CheckSettings, check_map, silence
from courses.mapping.lash_map import Cell, Fan, separated
from courses.mapping.trade import TradeList
from tests.courses.mapping.maps import CLOSED, OPEN, ZONES, lash_maps, mix, soft_volume, texture


def found(lash_map, code, rules=None, **context):
    return [each for each in check_map(lash_map, rules or CheckSettings(), **context) if each.code == code]


def with_fan(fan):
    lash_map = soft_volume()
    return replace(lash_map, cells={key: replace(cell, fan=fan) for key, cell in lash_map.cells.items()})


def test_a_plain_map_passes_every_check():
    assert check_map(soft_volume(), for_beginners=True) == ()


def test_a_long_corner_is_found_in_its_layer():
    (finding,) = found(soft_volume(outer_top=11), "corner_long")
    assert finding.places == (("both", "outer", "top"),)
    assert finding.where == "outer, top layer" and "11 mm" in finding.reason


def test_a_corner_as_short_as_its_shortest_neighbour_is_no_finding():
    assert found(soft_volume(outer_top=10), "corner_long") == []


def test_neighbouring_zones_step_by_one_millimetre_at_most():
    (finding,) = found(soft_volume(inner_top=8), "zone_step")
    assert finding.places == (("both", "inner", "top"), ("both", "inner_mid", "top"))
    assert finding.where == "inner and inner-mid, top layer"
    assert found(soft_volume(inner_top=8), "zone_step", CheckSettings(zone_step_mm=2)) == []


def test_a_textured_style_may_step():
    assert found(replace(soft_volume(inner_top=6), textured=True), "zone_step") == []


@pytest.mark.parametrize(
    ("parts", "codes"),
    [
        (((9, 70), (12, 30)), []),
        (((10, 70), (12, 30)), ["no_fillers"]),
        (((12, 100),), ["no_fillers"]),
        (((9, 51), (12, 49)), []),
        (((9, 50), (12, 50)), ["many_peaks"]),
        (((8, 40), (10, 30), (12, 30)), ["many_peaks"]),
    ],
)
def test_textured_fillers_are_three_millimetres_shorter_and_peaks_a_minority(parts, codes):
    findings = [each for each in check_map(texture(*parts)) if each.code in ("no_fillers", "many_peaks")]
    assert [each.code for each in findings] == codes * len(ZONES)


def test_a_plain_style_needs_no_fillers():
    assert found(replace(texture((12, 100)), textured=False), "no_fillers") == []


@pytest.mark.parametrize(("is_textured", "severity"), [(False, "check"), (True, "hint")])
def test_layers_blend_at_the_top_line(is_textured, severity):
    lash_map = replace(soft_volume(inner_mid_bottom=8), textured=is_textured)
    (finding,) = found(lash_map, "layers_apart")
    assert finding.severity == severity
    assert finding.where == "inner-mid, top layer and bottom layer"


@pytest.mark.parametrize(("filaments", "count"), [(7, 0), (8, 8)])
def test_a_fan_over_the_programmes_limit_is_found(filaments, count):
    findings = found(with_fan(replace(OPEN, filaments=filaments)), "fan_load")
    assert len(findings) == count
    assert all("the programme's limit of 7: a load of 89 %" in each.reason for each in findings)


def test_without_a_programme_limit_the_arithmetic_rules():
    rules = CheckSettings(programme_limits={})
    assert found(with_fan(replace(OPEN, filaments=9)), "fan_load", rules) == []
    finding, *_ = found(with_fan(replace(OPEN, filaments=10)), "fan_load", rules)
    assert "the arithmetic ceiling of 9" in finding.reason


@pytest.mark.parametrize(("natural", "severities"), [(8, []), (7, ["hint"]), (6, ["check"]), (None, [])])
def test_extensions_reach_two_or_three_millimetres_past_the_natural_lash(natural, severities):
    lash_map = texture((10, 100), natural_length_mm=natural)
    findings = found(lash_map, "past_natural")
    assert [each.severity for each in findings] == severities * len(ZONES)


def test_diameter_and_curl_stand_in_the_programmes_list():
    rules = CheckSettings(trade=TradeList(diameters_hundredths=(7,), curls=("D",)))
    assert len(found(soft_volume(), "diameter_not_listed", rules)) == 8
    assert len(found(soft_volume(), "curl_not_listed", rules)) == 8
    assert found(texture((9, 100)), "diameter_not_listed", rules) == []


def test_short_zones_are_planned_by_count():
    (finding,) = found(soft_volume(inner_top=8, outer_top=8), "looks_denser")
    assert finding.severity == "hint" and finding.where == "inner and outer, top layer"


@pytest.mark.parametrize(
    ("fan", "is_found"),
    [
        (Fan("closed", 5, 3, "C"), True),
        (Fan("spike", 5, 5, "C"), True),
        (Fan("closed", 3, 7, "C"), False),
        (Fan("open", 5, 3, "C", 30, 50), False),
        (Fan("closed", 1, 5, "C"), False),
    ],
)
def test_fine_closed_fans_are_a_hint_for_beginners(fan, is_found):
    assert bool(found(with_fan(fan), "fine_closed_fan", for_beginners=True)) is is_found
    assert found(with_fan(fan), "fine_closed_fan") == []


def test_a_note_silences_one_finding_and_stays_with_it():
    findings = check_map(soft_volume(outer_top=11))
    (key,) = {each.key for each in findings if each.code == "corner_long"}
    assert key == "corner_long both/outer/top"
    silenced = silence(findings, {key: " wanted: long outer corner ", "gone inner": "old"})
    assert {each.code: each.silenced_note for each in silenced}["corner_long"] == "wanted: long outer corner"
    assert len(silenced) == len(findings)


def test_a_blank_note_silences_nothing():
    findings = check_map(soft_volume(outer_top=11))
    assert silence(findings, {findings[0].key: "  "}) == findings


def test_separate_eyes_are_checked_apart():
    apart = separated(soft_volume())
    cells = {**apart.cells, ("left", "inner", "top"): Cell(mix((12, 100)), OPEN)}
    findings = check_map(replace(apart, cells=cells))
    assert {place[0] for each in findings for place in each.places} == {"left"}
    assert findings[0].where == "left eye, inner, top layer"


@settings(max_examples=30)
@given(lash_maps(), st.booleans())
def test_every_finding_has_its_own_key_a_reason_and_cells_of_the_map(lash_map, for_beginners):
    findings = check_map(lash_map, for_beginners=for_beginners)
    assert len({each.key for each in findings}) == len(findings)
    for each in findings:
        assert each.reason.endswith(".") and each.where
        assert set(each.places) <= set(lash_map.cells)


def test_closed_fans_of_007_are_what_beginners_close_more_easily():
    assert CLOSED.diameter_hundredths == 7 > CheckSettings().fine_hundredths
