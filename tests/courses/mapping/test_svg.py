"""The drawing as a document, read by an XML parser that knows nothing of it."""

import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings

from courses.mapping.drawing import draw_both, draw_map
from courses.mapping.svg import description, path_data, svg_text
from tests.courses.mapping.maps import lash_maps, soft_volume, texture

SVG = "{http://www.w3.org/2000/svg}"  # the namespace of SVG 1.1, section 1.3
# Elements and attributes of SVG 1.1 that the drawing may use.
ELEMENTS = {f"{SVG}{name}" for name in ("svg", "title", "desc", "g", "path", "text")}
PATH = re.compile(r"(?:M-?\d+\.\d -?\d+\.\d(?:L-?\d+\.\d -?\d+\.\d)+Z?)+")


@settings(max_examples=25)
@given(lash_maps())
def test_any_valid_map_is_a_well_formed_svg_within_its_view_box(lash_map):
    for drawing in draw_both(lash_map):
        root = ET.fromstring(svg_text(drawing, "Map & <more>"))
        assert root.tag == f"{SVG}svg" and {each.tag for each in root.iter()} <= ELEMENTS
        _, _, width, height = map(float, root.attrib["viewBox"].split())
        for path in root.iter(f"{SVG}path"):
            assert PATH.fullmatch(path.attrib["d"])
            numbers = [float(number) for number in re.findall(r"-?\d+\.\d", path.attrib["d"])]
            assert all(0 <= x <= width for x in numbers[::2])
            assert all(0 <= y <= height for y in numbers[1::2])


def test_the_picture_has_a_name_and_a_description():
    root = ET.fromstring(svg_text(draw_map(soft_volume(), "left"), "Soft volume, <left> & right"))
    assert root.attrib["role"] == "img"
    assert root.findtext(f"{SVG}title") == "Soft volume, <left> & right"
    assert root.findtext(f"{SVG}desc") == (
        "Left eye, from the nose outwards. "
        "Top layer: inner 9 mm, inner-mid 10 mm, outer-mid 10 mm, outer 9 mm. "
        "Bottom layer: inner 8 mm, inner-mid 9 mm, outer-mid 9 mm, outer 8 mm."
    )


def test_every_length_is_written_in_its_cell():
    root = ET.fromstring(svg_text(draw_map(texture((8, 70), (12, 30)), "right"), "Texture"))
    cells = [group for group in root.iter(f"{SVG}g") if group.get("class") == "map-cell"]
    assert [group.get("data-zone") for group in cells] == ["inner", "inner_mid", "outer_mid", "outer"]
    assert {group.findtext(f"{SVG}text") for group in cells} == {"8/12"}


def test_grounds_lie_below_the_fans_that_reach_over():
    text = svg_text(draw_map(soft_volume(), "left"), "Soft volume")
    row = text[text.index("map-row") : text.index("map-lid")]
    assert row.rindex('"map-band"') < row.index('"map-cell"')


def test_nothing_needs_a_style_attribute_a_script_or_another_file():
    text = svg_text(draw_map(soft_volume(), "left"), "Soft volume")
    assert not re.search(r"style=|<script|href|url\(|\son\w+=", text)


def test_ink_and_grounds_are_greys():
    text = svg_text(draw_map(texture((8, 70), (12, 30)), "left"), "Texture")
    colours = re.findall(r"#([0-9a-f]{6}|[0-9a-f]{3})\b", text)
    assert colours
    assert all(len(set(re.findall(".." if len(c) == 6 else ".", c))) == 1 for c in colours)


@pytest.mark.parametrize("title", ["tab\tand\x00null", "lone \ud800 half", "bell \x07"])
def test_a_title_with_characters_xml_forbids_still_makes_a_document(title):
    # XML 1.0, section 2.2: Char.
    ET.fromstring(svg_text(draw_map(soft_volume(), "left"), title).encode())


def test_the_strokes_of_a_fan_make_one_path():
    fan = draw_map(soft_volume(), "left").rows[0].cells[0].fans[0]
    assert path_data(fan).count("M") == len(fan) == 6
    assert description(draw_map(soft_volume(), "right")).startswith("Right eye")
