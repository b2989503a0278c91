"""Geometry of the picture of a need: the level from today on without practice."""

from dataclasses import dataclass

from django import template

from assessments.selectors.needs import NeedPicture

register = template.Library()

LEFT, RIGHT = 34.0, 404.0
STEPS = range(5)


@dataclass(frozen=True, slots=True)
class FadingLines:
    """Places in view box units (420 x 204), as text. ``due_anchor``: how the words at the due day are set."""

    line: str
    band: str
    now: tuple[str, str]
    due: tuple[str, str]
    due_anchor: str
    target_y: str
    steps: tuple[tuple[str, int], ...]
    days: int


@register.simple_tag
def fading_lines(picture: NeedPicture) -> FadingLines | None:
    """Geometry of assessments/_fading.html; None for a skill without marks."""
    fading = picture.fading
    if fading is None:
        return None
    xs = [_x(days, fading.ahead[-1]) for days in fading.ahead]
    upper = [f"{x},{_y(level)}" for x, level in zip(xs, fading.high, strict=True)]
    lower = [f"{x},{_y(level)}" for x, level in zip(xs, fading.low, strict=True)]
    due = picture.due_place
    return FadingLines(
        line=" ".join(f"{x},{_y(level)}" for x, level in zip(xs, fading.level, strict=True)),
        band=" ".join(upper + lower[::-1]),
        now=(xs[0], _y(fading.level[0])),
        due=(xs[due], _y(fading.level[due])),
        due_anchor="start" if fading.ahead[due] < fading.ahead[-1] / 2 else "end",
        target_y=_y(fading.target.target),
        steps=tuple((_y(step), step) for step in STEPS),
        days=round(fading.ahead[-1]),
    )


@register.filter
def fading_rows(picture: NeedPicture) -> list[tuple[int, float, float, float]]:
    """(days ahead, level, low, high) of some days: today, the due day, the last and what lies between."""
    fading = picture.fading
    if fading is None:
        return []
    last = len(fading.ahead) - 1
    places = sorted({0, picture.due_place, last // 3, 2 * last // 3, last})
    return [
        (round(fading.ahead[nth]), fading.level[nth], fading.low[nth], fading.high[nth]) for nth in places
    ]


def _x(days: float, most: float) -> str:
    return f"{LEFT + (RIGHT - LEFT) * days / most:.1f}"


def _y(level: float) -> str:
    return f"{168 - 38 * level:.1f}"
