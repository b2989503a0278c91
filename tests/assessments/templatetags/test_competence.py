"""Where the curve of a rule is drawn."""

import pytest

from assessments.scoring.programme_rules import PRESETS, parse_programme
from assessments.scoring.rule_picture import rule_picture
from assessments.templatetags.competence import BOTTOM, LEFT, RIGHT, TOP, curve_lines, lower_first


def spots(line):
    return [tuple(float(part) for part in spot.split(",")) for spot in line.split()]


@pytest.mark.parametrize("name", PRESETS)
def test_every_point_lies_inside_the_frame_and_the_curve_falls(name):
    drawn = curve_lines(rule_picture(parse_programme(PRESETS[name])))
    places = spots(drawn.line)
    assert all(LEFT <= x <= RIGHT and TOP <= y <= BOTTOM for x, y in places)
    assert [y for _, y in places] == sorted(y for _, y in places)  # y grows downwards
    assert bool(drawn.three) == (name != "fan_counts")


def test_the_axes_run_from_nothing_to_all():
    drawn = curve_lines(rule_picture(parse_programme(PRESETS["short_course"])))
    assert drawn.shares[0] == (f"{BOTTOM:.1f}", "0 %") and drawn.shares[-1] == (f"{TOP:.1f}", "100 %")
    assert drawn.rates[0] == (f"{LEFT:.1f}", "0 %") and drawn.rates[-1] == (f"{RIGHT:.1f}", "80 %")


def test_a_sentence_goes_on_in_small_letters():
    assert lower_first("While work stays good") == "while work stays good"
