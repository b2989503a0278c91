"""Geometry of the pictures of competence: the curve of a rule, and a student's sets in a row."""

from collections.abc import Sequence
from dataclasses import dataclass

from django import template

from assessments.scoring.rule_picture import PicturePoint, RulePicture

register = template.Library()

LEFT, RIGHT, TOP, BOTTOM = 52.0, 446.0, 14.0, 214.0


@register.filter
def lower_first(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


@dataclass(frozen=True, slots=True)
class CurveLines:
    """Places in view box units (460 x 268), as text."""

    line: str
    three: str
    ready: tuple[str, str]
    unready: tuple[str, str]
    shares: tuple[tuple[str, str], ...]
    rates: tuple[tuple[str, str], ...]


@register.simple_tag
def curve_lines(picture: RulePicture) -> CurveLines:
    """Geometry of assessments/_rule_picture.html."""
    widest = picture.points[-1].rate
    ticks = 0.05 if picture.counts_fans else 0.20
    steps = int(round(widest / ticks, 6)) + 1
    return CurveLines(
        line=_line([(point.rate, point.declared) for point in picture.points], widest),
        three=_line([(p.rate, p.three) for p in picture.points if p.three is not None], widest),
        ready=_spot(picture.ready, widest),
        unready=_spot(picture.unready, widest),
        shares=tuple((_y(n / 4), f"{25 * n} %") for n in range(5)),
        rates=tuple((_x(n * ticks, widest), f"{100 * n * ticks:.0f} %") for n in range(steps)),
    )


def _line(points: Sequence[tuple[float, float]], widest: float) -> str:
    return " ".join(f"{_x(rate, widest)},{_y(share)}" for rate, share in points)


def _spot(point: PicturePoint, widest: float) -> tuple[str, str]:
    return _x(min(point.rate, widest), widest), _y(point.declared)


def _x(rate: float, widest: float) -> str:
    return f"{LEFT + (RIGHT - LEFT) * rate / widest:.1f}"


def _y(share: float) -> str:
    return f"{BOTTOM - (BOTTOM - TOP) * share:.1f}"
