"""Filters and tags every page may load with ``{% load ui %}``."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import floor
from typing import Any, SupportsFloat

from django import template
from django.forms import BoundField
from django.utils.safestring import SafeString

register = template.Library()

LEVEL_WORDS = ("absent", "weak", "developing", "sound", "exam-ready")
TOP_LEVEL = len(LEVEL_WORDS) - 1
NOT_KNOWN = "–"


class OnceNode(template.Node):
    """Renders its inside at the first use in a process and keeps it as long as the parsed template."""

    def __init__(self, inside: template.NodeList) -> None:
        self.inside = inside
        self.text: SafeString | None = None

    def render(self, context: template.Context) -> SafeString:
        if self.text is None:
            self.text = self.inside.render(context.new())
        return self.text


@register.tag
def once(parser: template.base.Parser, token: template.base.Token) -> OnceNode:
    """``{% once %}…{% endonce %}``: what is the same on every page; nothing of the page is known inside."""
    inside = parser.parse(("endonce",))
    parser.delete_first_token()
    return OnceNode(inside)


IN_FULL = "in_full"  # code of a form error that names what it is about


@register.filter
def error_lines(field: BoundField) -> list[str]:
    """What is wrong in a field, for a list away from it: after its label, unless the sentence names it."""
    return [
        words if error.code == IN_FULL else f"{field.label}: {words}"
        for error in field.errors.as_data()
        for words in error.messages
    ]


@register.filter
def minutes(seconds: SupportsFloat | None) -> str:
    """Whole minutes of a duration in seconds: ``2 h 05 min``."""
    if seconds is None:
        return NOT_KNOWN
    hours, rest = divmod(int(float(seconds)) // 60, 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


@register.filter
def clock(seconds: SupportsFloat | None) -> str:
    """A duration in seconds as on a clock face: ``1:05:09``."""
    if seconds is None:
        return NOT_KNOWN
    whole, secs = divmod(max(0, int(float(seconds))), 60)
    hours, mins = divmod(whole, 60)
    return f"{hours}:{mins:02d}:{secs:02d}"


@register.filter
def percent(share: SupportsFloat | None, digits: int = 0) -> str:
    """A share of 1 as per cent: ``5 %``."""
    return NOT_KNOWN if share is None else f"{float(share) * 100:.{digits}f} %"


@register.filter
def level_step(level: SupportsFloat | None) -> int | None:
    """The whole level that is reached, 0 to 4, read from the tenth that is shown: 2.9 has not reached 3."""
    return None if level is None else min(TOP_LEVEL, max(0, floor(round(float(level), 1))))


@register.filter
def level_word(level: SupportsFloat | None) -> str:
    """The word for the whole level that is reached."""
    step = level_step(level)
    return "not marked" if step is None else LEVEL_WORDS[step]


@register.filter
def level_number(level: SupportsFloat | None) -> str:
    """A whole level without decimals, an estimate with one."""
    if level is None:
        return NOT_KNOWN
    return f"{float(level):.0f}" if float(level).is_integer() else f"{float(level):.1f}"


@register.filter
def step(levels: SupportsFloat) -> str:
    """A change of level with its sign; none reads as 0."""
    rounded = round(float(levels), 1)
    return f"{rounded:+.1f}".replace("-", "\N{MINUS SIGN}") if rounded else "0"


@register.filter
def label_cells(cells: Sequence[Any], labels: Sequence[str]) -> list[tuple[str, Any]]:
    """Each cell of a table row with the heading of its column."""
    return list(zip(labels, cells, strict=True))


@dataclass(frozen=True, slots=True)
class Strip:
    """Places on the level strip, as text in view box units (220 wide)."""

    estimate: str
    low: str
    width: str
    target: str
    steps: tuple[tuple[str, int], ...]


@register.simple_tag
def level_strip(
    estimate: SupportsFloat, low: SupportsFloat, high: SupportsFloat, target: SupportsFloat | None = None
) -> Strip:
    """Geometry of components/_interval.html."""
    return Strip(
        estimate=_strip_x(estimate),
        low=_strip_x(low),
        width=f"{(float(high) - float(low)) * 48:.1f}",
        target="" if target is None else _strip_x(target),
        steps=tuple((_strip_x(step), step) for step in range(TOP_LEVEL + 1)),
    )


def _strip_x(level: SupportsFloat) -> str:
    return f"{14 + 48 * float(level):.1f}"


@dataclass(frozen=True, slots=True)
class TrendPoint:
    label: str
    level: float
    low: float
    high: float
    x: str
    y: str
    reaches_target: bool


@dataclass(frozen=True, slots=True)
class Trend:
    """Places of a trend, as text in view box units (420 x 200)."""

    points: tuple[TrendPoint, ...]
    line: str
    band: str
    guide: str
    target_y: str
    steps: tuple[tuple[str, int], ...]

    @property
    def summary(self) -> str:
        first, last = self.points[0], self.points[-1]
        if len(self.points) == 1:
            return f"1 set, level {first.level:.1f} ({first.label})"
        ends = f"from {first.level:.1f} ({first.label}) to {last.level:.1f} ({last.label})"
        return f"{len(self.points)} sets, {ends}"


@register.simple_tag
def trend_lines(
    points: Iterable[Any], target: SupportsFloat | None = None, guide: Any = None
) -> Trend | None:
    """Geometry of components/_trend.html; None when there is nothing to draw.

    ``guide``: one point more, where the line is thought to have gone without any set to show it.
    """
    rows = list(points)
    if not rows:
        return None
    xs = _spread(len(rows) + bool(guide))
    drawn = tuple(_trend_point(row, x, target) for row, x in zip(rows, xs, strict=False))
    upper = [f"{point.x},{_trend_y(point.high)}" for point in drawn]
    lower = [f"{point.x},{_trend_y(point.low)}" for point in reversed(drawn)]
    return Trend(
        points=drawn,
        line=" ".join(f"{point.x},{point.y}" for point in drawn),
        band=" ".join(upper + lower),
        guide=_guide(drawn[-1], guide, xs[-1]) if guide else "",
        target_y="" if target is None else _trend_y(float(target)),
        steps=tuple((_trend_y(step), step) for step in range(TOP_LEVEL + 1)),
    )


def _trend_point(row: Any, x: float, target: SupportsFloat | None) -> TrendPoint:
    level = float(_read(row, "level"))
    return TrendPoint(
        label=str(_read(row, "label")),
        level=level,
        low=float(_read(row, "low")),
        high=float(_read(row, "high")),
        x=f"{x:.1f}",
        y=_trend_y(level),
        reaches_target=target is not None and level >= float(target),
    )


def _guide(last: TrendPoint, guide: Any, x: float) -> str:
    return f"{last.x},{last.y} {x:.1f},{_trend_y(float(_read(guide, 'level')))}"


def _spread(count: int) -> list[float]:
    left, right = 34.0, 404.0
    if count == 1:
        return [(left + right) / 2]
    return [left + (right - left) * index / (count - 1) for index in range(count)]


def _trend_y(level: float) -> str:
    return f"{168 - 38 * level:.1f}"


def _read(row: Any, name: str) -> Any:
    return row[name] if isinstance(row, Mapping) else getattr(row, name)


@dataclass(frozen=True, slots=True)
class ClockFace:
    """The clock's arc: hundredths of the target used, capped at 100, and what is left or over in seconds."""

    used: int
    left_s: int
    over_s: int


@register.simple_tag
def clock_face(elapsed_s: SupportsFloat, target_s: SupportsFloat | None = None) -> ClockFace:
    """Geometry of components/_clock.html; without a target the arc stays empty."""
    if not target_s:
        return ClockFace(used=0, left_s=0, over_s=0)
    elapsed, target = int(float(elapsed_s)), int(float(target_s))
    return ClockFace(min(100, 100 * elapsed // target), max(0, target - elapsed), max(0, elapsed - target))
