"""Geometry of a proposed plan: one week, its days side by side, hours downwards."""

from dataclasses import dataclass

from django import template

from courses.selectors.plan_weeks import Block, PlanWeek

register = template.Library()

LEFT, TOP, DAY, HOUR, GAP = 44.0, 34.0, 124.0, 30.0, 3.0


@dataclass(frozen=True, slots=True)
class DrawnBlock:
    """Places in view box units, as text. ``sign`` stands for the change beside its number."""

    shape: str
    number: int
    sign: str
    x: str
    y: str
    width: str
    height: str
    text_x: str
    text_y: str


@dataclass(frozen=True, slots=True)
class DrawnWeek:
    width: int
    height: int
    days: tuple[tuple[str, str, object], ...]
    hours: tuple[tuple[str, int], ...]
    blocks: tuple[DrawnBlock, ...]


SIGNS = {"new": "+", "moved": "\N{RIGHTWARDS ARROW}", "gone": "\N{MULTIPLICATION SIGN}", "unchanged": ""}


@register.simple_tag
def plan_drawing(week: PlanWeek) -> DrawnWeek:
    """Geometry of assessments/_plan_week.html; weekend days without a session are left out."""
    days = [day for day in week.days if day.blocks or day.on.weekday() < 5]
    hours = range(week.from_h, week.to_h + 1)
    return DrawnWeek(
        width=round(LEFT + DAY * len(days)),
        height=round(TOP + HOUR * (week.to_h - week.from_h) + 8),
        days=tuple(
            (f"{LEFT + DAY * nth:.0f}", f"{LEFT + DAY * (nth + 0.5):.0f}", day.on)
            for nth, day in enumerate(days)
        ),
        hours=tuple((f"{TOP + HOUR * (hour - week.from_h):.0f}", hour) for hour in hours),
        blocks=tuple(
            _drawn(block, LEFT + DAY * nth, week.from_h)
            for nth, day in enumerate(days)
            for block in day.blocks
        ),
    )


def _drawn(block: Block, left: float, from_h: int) -> DrawnBlock:
    lane = (DAY - 2 * GAP) / block.lanes
    x, y = left + GAP + lane * block.lane, TOP + HOUR * (block.starts_h - from_h)
    width, height = lane - GAP, HOUR * (block.ends_h - block.starts_h) - GAP
    return DrawnBlock(
        shape=block.shape,
        number=block.line.position + 1,
        sign=SIGNS[block.shape],
        x=f"{x:.1f}",
        y=f"{y:.1f}",
        width=f"{width:.1f}",
        height=f"{height:.1f}",
        text_x=f"{x + width / 2:.1f}",
        text_y=f"{y + height / 2:.1f}",
    )
