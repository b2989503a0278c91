"""Every way a brief can be wrong has its sentence, and all are found at once."""

import pytest

from courses.mapping.map_json import write_map
from courses.services.brief_content import BriefMapWrong, brief_problems, lash_map_of
from courses.words import CURLS, DIAMETERS
from tests.factories.courses import brief_content, plain_map


def fields(**changes):
    return [problem.field for problem in brief_problems(brief_content(**changes))]


def drawn(**changes):
    """The JSON of a map, with changes to the inner cell of its top layer."""
    data = write_map(plain_map())
    data["cells"]["both"]["inner"]["top"] |= changes
    return data


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
        ({"difficulty": "hard"}, "difficulty"),
        ({"curl": "Z"}, "lash_map"),
        ({"diameter_hundredths": 9}, "lash_map"),
        ({"coverage_percent": 9}, "coverage_percent"),
        ({"coverage_percent": 101}, "coverage_percent"),
        ({"lashes_per_eye": 19}, "lashes_per_eye"),
        ({"silenced": {"zone_step both/inner/top both/inner_mid/top": "  "}}, "silenced"),
        ({"silenced": {"zone_step both/inner/top both/inner_mid/top": "a" * 241}}, "silenced"),
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


def test_all_problems_come_at_once_and_say_what_to_do():
    problems = brief_problems(brief_content(name="", coverage_percent=0, targets=((1, 300), (4, 320))))
    assert [problem.field for problem in problems] == ["name", "coverage_percent", "targets"]
    assert problems[2].message == (
        "From set 4 the target is 320 min, not below the 300 min before. "
        "Targets fall from stage to stage: shorten it, or remove the stage."
    )


def test_a_drawn_map_is_read_as_it_was_drawn():
    assert lash_map_of(write_map(plain_map())) == plain_map()


@pytest.mark.parametrize(
    ("data", "pointer", "said"),
    [
        ({**write_map(plain_map()), "zones": []}, "/zones", "Give 3 to 9"),
        (drawn(diameter_hundredths=50), "/cells/both/inner/top/diameter_hundredths", "0.50 mm is not"),
        (drawn(lengths=[{"length_mm": 3, "share_percent": 100}]), "/cells/both/inner/top/lengths/0", "3 mm"),
        (
            drawn(lengths=[{"length_mm": 40, "share_percent": 100}]),
            "/cells/both/inner/top/lengths/0",
            "40 mm",
        ),
        (
            drawn(lengths=[{"length_mm": 8, "share_percent": 60}, {"length_mm": 12, "share_percent": 30}]),
            "/cells/both/inner/top/lengths",
            "90 %, not 100 %",
        ),
        ("not a map", "", "a set of named fields"),
    ],
)
def test_a_map_nobody_could_work_from_is_refused_with_its_place(data, pointer, said):
    with pytest.raises(BriefMapWrong) as caught:
        lash_map_of(data)
    (problem,) = caught.value.problems
    assert problem.pointer.startswith(pointer) and said in problem.message
    assert caught.value.details["field"] == "lash_map"


def test_every_wrong_cell_is_told_at_once():
    data = drawn(filaments=0)
    data["cells"]["both"]["outer"]["bottom"]["curl"] = "Q"
    with pytest.raises(BriefMapWrong) as caught:
        lash_map_of(data)
    assert [problem.pointer for problem in caught.value.problems] == [
        "/cells/both/inner/top/filaments",
        "/cells/both/outer/bottom/curl",
    ]
