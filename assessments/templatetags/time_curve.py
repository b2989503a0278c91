"""Geometry of the picture of set times."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from django import template

from assessments.selectors.time_forecasts import CurvePoint, TimeForecast

register = template.Library()

LEFT, RIGHT, TOP, BOTTOM = 44.0, 452.0, 14.0, 194.0
STEPS = 4


@dataclass(frozen=True, slots=True)
class TimeLines:
    """Places in view box units (460 x 226), as text. ``ahead``: from where no set has been done yet."""

    dots: tuple[tuple[str, str], ...]
    done: str
    ahead: str
    band: str
    target_y: str
    minutes: tuple[tuple[str, int], ...]
    first: int
    last: int


@register.simple_tag
def time_lines(shown: TimeForecast) -> TimeLines:
    """Geometry of assessments/_time_forecast.html."""
    points = shown.points
    tallest = max(shown.target_min, *(max(point.worked or 0, point.high) for point in points))
    step = 15 * ceil(tallest / STEPS / 15)
    xs, top = [_x(n, len(points)) for n in range(len(points))], step * STEPS
    done = sum(point.worked is not None for point in points)
    curve = [f"{x},{_y(point.usual, top)}" for x, point in zip(xs, points, strict=True)]
    return TimeLines(
        dots=tuple(
            (x, _y(point.worked, top))
            for x, point in zip(xs, points, strict=True)
            if point.worked is not None
        ),
        done=" ".join(curve[:done]),
        ahead=" ".join(curve[done - 1 :]),
        band=_band(xs, points, top),
        target_y=_y(shown.target_min, top),
        minutes=tuple((_y(step * n, top), step * n) for n in range(STEPS + 1)),
        first=points[0].number,
        last=points[-1].number,
    )


def _band(xs: Sequence[str], points: Sequence[CurvePoint], top: int) -> str:
    upper = [f"{x},{_y(point.high, top)}" for x, point in zip(xs, points, strict=True)]
    lower = [f"{x},{_y(point.low, top)}" for x, point in zip(xs, points, strict=True)]
    return " ".join(upper + lower[::-1])


def _x(place: int, count: int) -> str:
    return f"{LEFT + 8 + (RIGHT - LEFT - 16) * place / (count - 1):.1f}"


def _y(minutes: float, top: int) -> str:
    return f"{BOTTOM - (BOTTOM - TOP) * minutes / top:.1f}"
