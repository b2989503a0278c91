"""Every way a brief can be wrong has its sentence, and all are found at once."""

import pytest

from courses.services.brief_content import brief_problems
from courses.words import CURLS, DIAMETERS, ZONES
from tests.factories.courses import brief_content

LENGTHS = dict(brief_content().lengths)


def fields(**changes):
    return [problem.field for problem in brief_problems(brief_content(**changes))]


def test_a_right_brief_has_no_problem():
    assert fields() == []


@pytest.mark.parametrize("diameter", DIAMETERS)
def test_every_diameter_the_trade_sells_is_allowed(diameter):
    assert fields(diameter_hundredths=diameter) == []


@pytest.mark.parametrize("curl", CURLS)
def test_every_curl_letter_is_allowed(curl):
    assert fields(curl=curl) == []


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": " "}, "name"),
        ({"style": ""}, "style"),
        ({"curl": "Z"}, "curl"),
        ({"fan_shape": "round"}, "fan_shape"),
        ({"diameter_hundredths": 9}, "diameter_hundredths"),
        ({"filaments": 0}, "filaments"),
        ({"filaments": 31}, "filaments"),
        ({"coverage_percent": 9}, "coverage_percent"),
        ({"coverage_percent": 101}, "coverage_percent"),
        ({"lashes_per_eye": 19}, "lashes_per_eye"),
        ({"zones": ()}, "zones"),
        ({"zones": tuple(reversed(ZONES))}, "zones"),
        ({"zones": (*ZONES, "inner")}, "zones"),
        ({"layers": ("bottom", "top")}, "layers"),
        ({"layers": ()}, "layers"),
        ({"opening_min_deg": None}, "opening_min_deg"),
        ({"opening_max_deg": None}, "opening_min_deg"),
        ({"opening_min_deg": 60}, "opening_min_deg"),
        ({"opening_min_deg": 0}, "opening_min_deg"),
        ({"opening_max_deg": 121}, "opening_min_deg"),
        ({"lengths": LENGTHS | {("inner", "top"): 4}}, "lengths"),
        ({"lengths": LENGTHS | {("inner", "top"): 19}}, "lengths"),
        ({"lengths": LENGTHS | {("inner", "middle"): 9}}, "lengths"),
        ({"lengths": {place: mm for place, mm in LENGTHS.items() if place != ("outer", "top")}}, "lengths"),
        ({"targets": ()}, "targets"),
        ({"targets": ((2, 300),)}, "targets"),
        ({"targets": ((1, 4),)}, "targets"),
        ({"targets": ((1, 601),)}, "targets"),
        ({"targets": ((1, 300), (4, 300))}, "targets"),
        ({"targets": ((1, 300), (4, 310))}, "targets"),
        ({"targets": ((1, 300), (9, 180), (4, 120))}, "targets"),
    ],
)
def test_what_is_wrong_is_named(changes, field):
    assert set(fields(**changes)) == {field}


@pytest.mark.parametrize("shape", ["closed", "spike"])
def test_only_an_open_fan_has_an_opening(shape):
    assert fields(fan_shape=shape, opening_min_deg=None, opening_max_deg=None) == []
    assert fields(fan_shape=shape, opening_min_deg=20, opening_max_deg=None) == ["opening_min_deg"]


@pytest.mark.parametrize("millimetres", [5, 18])
def test_lengths_reach_from_5_to_18_mm(millimetres):
    # Common practice, no source: the lengths that trays are sold in.
    assert fields(lengths=LENGTHS | {("inner", "top"): millimetres}) == []


def test_all_problems_come_at_once_and_say_what_to_do():
    problems = brief_problems(brief_content(curl="Z", filaments=0, targets=((1, 300), (4, 320))))
    assert [problem.field for problem in problems] == ["curl", "filaments", "targets"]
    assert problems[2].message == (
        "From set 4 the target is 320 min, not below the 300 min before. "
        "Targets fall from stage to stage: shorten it, or remove the stage."
    )
