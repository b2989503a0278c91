"""The drawn map on a page: what it says in words, and what scripts may rely on."""

from dataclasses import replace
from html.parser import HTMLParser
from types import SimpleNamespace

import pytest
from django.template import Context, Template
from hypothesis import given, settings

from courses.mapping.lash_map import MapError, usual_zones, zone_words
from courses.templatetags.lash_map import KINDS, both_eyes, draw_eye
from tests.courses.mapping.maps import CLOSED, OPEN, lash_maps, soft_volume, texture

MARK = {"eye": "left", "zone": "outer", "layer": "top", "fan": 2, "fans_in_cell": 10}


def rendered(lash_map, marks=(), current=None) -> str:
    template = Template("{% both_eyes lash_map marks current %}")
    return template.render(Context({"lash_map": lash_map, "marks": marks, "current": current}))


class Parts(HTMLParser):
    """Start tags with their attributes."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))

    def of_class(self, name: str) -> list[dict[str, str | None]]:
        return [attrs for _, attrs in self.found if name in (attrs.get("class") or "").split()]


def test_a_mark_may_be_a_row_or_an_object():
    one, other = (
        draw_eye(soft_volume(), "left", [mark]).marks[0] for mark in (MARK, SimpleNamespace(**MARK))
    )
    assert one == other


def test_both_eyes_share_one_count_and_each_shows_its_own_marks():
    marks = [MARK | {"eye": eye, "fan": fan} for eye, fan in (("right", 1), ("left", 1), ("right", 2))]
    right, left = both_eyes(soft_volume(), marks, current=0)["eyes"]
    assert [mark.index for mark in right.marks] == [2, 0]  # the current one last, on top
    assert [mark.index for mark in left.marks] == [1]


def test_a_place_that_is_not_on_the_map_is_refused():
    with pytest.raises(MapError, match="no middle, top layer"):
        draw_eye(soft_volume(), "left", [MARK | {"zone": "middle"}])


def test_an_eye_that_is_neither_is_refused():
    with pytest.raises(ValueError, match="left or right"):
        draw_eye(soft_volume(), "middle")


def test_the_drawing_says_in_words_what_it_shows():
    marks = [MARK | {"fan": nth, "kind": kind} for nth, kind in enumerate(("clean", "long", "unseen"), 1)]
    told = draw_eye(soft_volume(), "left", marks, current=2).summary
    assert "Top layer: inner 9 mm, inner-mid 10 mm, outer-mid 10 mm, outer 9 mm." in told
    assert "3 positions: 1 clean, 1 longer than the map, 1 not yet seen." in told
    assert "Current position: outer, top layer, fan 3." in told


def test_every_mark_can_be_found_by_its_index_and_holds_every_shape():
    parts = Parts(rendered(soft_volume(), [MARK], current=0))
    (mark,) = [attrs for _, attrs in parts.found if "data-index" in attrs]
    assert mark["data-index"] == "0" and mark["class"] == "eye-mark eye-mark--unseen is-current"
    for kind in (*KINDS, "current"):
        assert parts.of_class(f"eye-shape--{kind}")


def test_every_zone_of_every_layer_can_be_found_on_both_eyes():
    cells = [attrs for _, attrs in Parts(rendered(soft_volume())).found if "data-cell" in attrs]
    assert len(cells) == 2 * 4 * 2
    assert {(cell["data-zone"], cell["data-layer"]) for cell in cells} == {
        (zone, layer) for zone in usual_zones(4) for layer in ("top", "bottom")
    }


@pytest.mark.parametrize(
    ("fan", "kind"), [(OPEN, "line"), (CLOSED, "outline"), (replace(CLOSED, shape="spike"), "solid")]
)
def test_fans_differ_by_shape_not_by_colour(fan, kind):
    assert Parts(rendered(texture((9, 100), fan=fan))).of_class(f"eye-fan--{kind}")


def test_the_legend_names_only_the_shapes_that_occur():
    html = rendered(soft_volume(), [MARK | {"kind": "short"}])
    assert "shorter than the map</li>" in html and "longer than the map</li>" not in html
    assert "eye-legend" not in rendered(soft_volume())


def test_words_from_outside_cannot_break_out_of_the_drawing():
    html = rendered(soft_volume(), [MARK | {"label": "<b>", "told": '"><script>'}])
    assert "<script>" not in html and "<b>" not in html


@settings(max_examples=15, deadline=None)
@given(lash_maps())
def test_any_valid_map_is_drawn_with_its_zones_and_without_inline_style(lash_map):
    html = rendered(lash_map)
    assert all(f">{zone_words(zone)}</text>" in html for zone in lash_map.zones)
    assert "style=" not in html and "<script" not in html
