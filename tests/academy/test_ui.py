"""Words for numbers, and what every page's colours and parts must keep."""

import re
from math import isclose
from pathlib import Path

import numpy as np
import pytest
from django import forms
from django.template import Context, Template
from django.template.loader import render_to_string

from academy.templatetags import ui

CSS = Path(ui.__file__).parent.parent / "static" / "academy" / "css"


# --- Words for numbers ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seconds", "words"),  # 60 s a minute, 60 min an hour: the SI brochure, table 8
    [(0, "0 min"), (59, "0 min"), (2700, "45 min"), (3600, "1 h 00 min"), (7500, "2 h 05 min"), (None, "–")],
)
def test_minutes_are_whole_and_hours_stand_apart(seconds: int | None, words: str):
    assert ui.minutes(seconds) == words


@pytest.mark.parametrize(("seconds", "face"), [(0, "0:00:00"), (3909, "1:05:09"), (36000, "10:00:00")])
def test_clock_shows_hours_minutes_seconds(seconds: int, face: str):
    assert ui.clock(seconds) == face


def test_percent_keeps_the_digits_asked_for():
    assert (ui.percent(0.05), ui.percent(0.017, 1), ui.percent(None)) == ("5 %", "1.7 %", "–")


@pytest.mark.parametrize(
    (
        "level",
        "word",
    ),  # the school's own five words; a level counts once it is reached, as in any grading scale
    [
        (0, "absent"),
        (1, "weak"),
        (2, "developing"),
        (3, "sound"),
        (4, "exam-ready"),
        (2.9, "developing"),
        (2.96, "sound"),  # shown as 3.0
    ],
)
def test_every_level_has_its_word(level: float, word: str):
    assert ui.level_word(level) == word


def test_a_missing_level_is_not_a_zero():
    assert (ui.level_word(None), ui.level_number(None), ui.level_step(None)) == ("not marked", "–", None)


# --- Strip, trend, clock -------------------------------------------------------------------------


def test_the_strip_keeps_distances_between_levels():
    strip = ui.level_strip(2.5, 2, 3, 4)
    places = [float(x) for x, _ in strip.steps]
    assert np.allclose(np.diff(places), places[1] - places[0])
    assert float(strip.estimate) == (places[2] + places[3]) / 2
    assert float(strip.target) == places[4] and float(strip.width) == places[1] - places[0]


def test_a_trend_rises_on_the_page_when_levels_rise():
    rows = [{"label": f"set {number}", "level": number, "low": 0, "high": 4} for number in (1, 2, 3)]
    trend = ui.trend_lines(rows, target=2)
    assert trend is not None
    assert [float(point.y) for point in trend.points] == sorted(
        (float(p.y) for p in trend.points), reverse=True
    )
    assert [point.reaches_target for point in trend.points] == [False, True, True]


def test_a_guide_goes_on_from_the_last_point_to_the_right_and_makes_room_for_itself():
    rows = [{"label": f"set {number}", "level": number, "low": 0, "high": 4} for number in (1, 3)]
    plain, guided = ui.trend_lines(rows), ui.trend_lines(rows, None, {"label": "today", "level": 2})
    assert plain is not None and guided is not None and plain.guide == ""
    start, end = (place.split(",") for place in guided.guide.split())
    assert start == [guided.points[-1].x, guided.points[-1].y]
    assert float(end[0]) == float(plain.points[-1].x) > float(start[0])
    assert float(end[1]) > float(start[1])  # lower on the page: the level has faded


def test_a_change_of_level_carries_its_sign():
    assert [ui.step(change) for change in (0.3, -0.2, 0.04, 0)] == ["+0.3", "\N{MINUS SIGN}0.2", "0", "0"]


def test_no_sets_draw_no_trend():
    assert ui.trend_lines([]) is None
    assert "<svg" not in render_to_string("components/_trend.html", {"points": []})


@pytest.mark.parametrize(
    ("elapsed", "target", "face"),
    [
        (3600, 7200, ui.ClockFace(50, 3600, 0)),
        (7800, 7200, ui.ClockFace(100, 0, 600)),
        (60, None, ui.ClockFace(0, 0, 0)),
    ],
)
def test_the_clock_fills_to_the_target_and_tells_what_is_over(
    elapsed: int, target: int | None, face: ui.ClockFace
):
    assert ui.clock_face(elapsed, target) == face


# --- Parts of a page -----------------------------------------------------------------------------


@pytest.mark.parametrize("level", range(5))
def test_a_level_is_shape_number_and_word(level: int):
    html = render_to_string("components/_level.html", {"level": level})
    assert html.count('"level-on"') == level
    assert f">{level}<" in html and ui.LEVEL_WORDS[level] in html


class _Brief(forms.Form):
    name = forms.CharField(help_text="Students see it.")
    isolation = forms.ChoiceField(choices=[("0", "absent"), ("1", "weak")], widget=forms.RadioSelect)


def test_every_error_and_help_text_is_tied_to_its_field():
    html = render_to_string("components/_form.html", {"form": _Brief({"name": ""})})
    for described in re.findall(r'aria-describedby="([^"]+)"', html):
        assert all(f'id="{part}"' in html for part in described.split())
    for target in re.findall(r'href="#([^"]+)"', html):
        assert f'id="{target}"' in html
    assert html.count("aria-describedby") == 2 and html.count('href="#') == 2


def test_what_was_typed_comes_back():
    assert 'value="Open fans"' in render_to_string(
        "components/_form.html", {"form": _Brief({"name": "Open fans"})}
    )


def test_the_base_page_renders_for_nobody_and_without_navigation():
    html = render_to_string("base.html")
    assert "<nav" not in html and 'class="menu"' not in html and 'href="#main"' in html


# --- Colours -------------------------------------------------------------------------------------

WORDS_ON_GROUNDS = [
    *(
        (ink, ground)
        for ink in ("ink", "ink-soft", "accent", "alert")
        for ground in ("paper", "sheet", "wash")
    ),
    ("ink", "accent-wash"),
    ("ink", "alert-wash"),
    ("alert", "alert-wash"),
    ("on-accent", "accent"),
    ("on-accent", "accent-deep"),
    ("sheet", "alert"),
]


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("ink", "ground"), WORDS_ON_GROUNDS)
def test_words_stand_out_from_their_ground(theme: str, ink: str, ground: str):
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1."""
    assert contrast(tokens(theme)[ink], tokens(theme)[ground]) >= 4.5


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "sheet"])
def test_borders_of_controls_can_be_seen(theme: str, ground: str):
    """WCAG 2.2, success criterion 1.4.11: at least 3 to 1."""
    assert contrast(tokens(theme)["edge"], tokens(theme)[ground]) >= 3


def test_dark_by_choice_and_dark_by_system_are_the_same():
    blocks = theme_blocks()
    assert blocks[1] == blocks[2] and len(blocks) == 3


def test_contrast_of_black_on_white_is_21_to_1():
    """The extreme named in WCAG 2.2's definition of contrast ratio."""
    assert isclose(contrast("#000000", "#ffffff"), 21)


def theme_blocks() -> list[dict[str, str]]:
    blocks = re.split(r"\n\s+color-scheme:", (CSS / "tokens.css").read_text())[1:]
    return [dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block)) for block in blocks]


def tokens(theme: str) -> dict[str, str]:
    light, dark, _ = theme_blocks()
    return light if theme == "light" else dark


def contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    dim, bright = sorted((luminance(one), luminance(other)))
    return (bright + 0.05) / (dim + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_what_is_the_same_on_every_page_is_rendered_once_and_knows_nothing_of_the_page():
    page = Template("{% once %}[{{ reader }}{% include 'components/_mark.html' %}]{% endonce %}{{ reader }}")
    first, second = (page.render(Context({"reader": reader})) for reader in ("Ada", "Bea"))
    assert "<svg" in first and "Ada" not in first.removesuffix("Ada")
    assert first.endswith("]Ada") and second.endswith("]Bea")
    assert first.removesuffix("Ada") == second.removesuffix("Bea")
