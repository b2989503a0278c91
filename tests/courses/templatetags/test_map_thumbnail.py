import re

from django.template import Context, Template
from hypothesis import given, settings

from courses.templatetags.map_thumbnail import thumbnail
from tests.courses.mapping.maps import CLOSED, OPEN, lash_maps, soft_volume, texture

NUMBER = re.compile(r"-?\d+")


def test_a_thumbnail_is_one_picture_with_its_lengths_in_words():
    html = Template("{% load map_thumbnail %}{% map_thumbnail lash_map %}").render(
        Context({"lash_map": soft_volume()})
    )
    assert html.count("<svg") == 1 and "<text" not in html
    assert "Left eye, from the nose outwards. Top layer: inner 9 mm" in html


def test_the_shape_of_the_fan_can_be_told():
    assert [kind for kind, _ in thumbnail(texture((9, 100), fan=OPEN)).fans] == ["line"]
    assert [kind for kind, _ in thumbnail(texture((9, 100), fan=CLOSED)).fans] == ["outline"]


def test_it_is_a_fraction_of_the_drawing():
    """A page of 25 briefs stays light: under 6 kB each with six open strokes a fan on two layers."""
    assert sum(len(path) for _, path in thumbnail(soft_volume()).fans) < 6_000


@given(lash_map=lash_maps())
@settings(max_examples=25, deadline=None)
def test_the_fans_of_any_map_stand_in_the_picture(lash_map):
    """The lids lie inside the box; a tip may lean over its edge by less than its own length of 18 mm."""
    shown = thumbnail(lash_map)
    left, top, width, height = (int(number) for number in shown.box.split())
    for path in (shown.lids, *(path for _, path in shown.fans)):
        numbers = [int(number) for number in NUMBER.findall(path)]
        xs, ys = numbers[::2], numbers[1::2]
        lean = 0 if path == shown.lids else 18 * 4.2
        assert left - lean <= min(xs) and max(xs) <= left + width + lean
        assert top - lean <= min(ys) and max(ys) <= top + height + lean
