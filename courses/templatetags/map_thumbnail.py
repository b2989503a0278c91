"""A map as small as a stamp: enough to know it again in a list. The words beside it say the rest."""

from collections.abc import Sequence
from dataclasses import dataclass

from django import template

from courses.mapping.drawing import MapDrawing, Place, Stroke, draw_map
from courses.mapping.lash_map import LashMap
from courses.mapping.svg import description

register = template.Library()


@dataclass(frozen=True, slots=True)
class Thumbnail:
    """One eye without its words; numbers are whole units of the view box."""

    box: str
    lids: str
    fans: tuple[tuple[str, str], ...]
    words: str


@register.inclusion_tag("components/_map_thumbnail.html")
def map_thumbnail(lash_map: LashMap) -> dict[str, Thumbnail]:
    """The left eye; a map whose eyes differ says so in its words."""
    return {"thumbnail": thumbnail(lash_map)}


def thumbnail(lash_map: LashMap) -> Thumbnail:
    drawing = draw_map(lash_map, "left")
    kinds = dict.fromkeys(stroke.kind for stroke, _ in drawing.strokes())
    return Thumbnail(
        box=_box(drawing),
        lids="".join(_path(row.lid[::4]) for row in drawing.rows),
        fans=tuple((kind, _fans(drawing, kind)) for kind in kinds),
        words=description(drawing),
    )


def _fans(drawing: MapDrawing, kind: str) -> str:
    return "".join(_stroke(stroke) for stroke, _ in drawing.strokes() if stroke.kind == kind)


def _stroke(stroke: Stroke) -> str:
    """Root, middle and tip are enough at this size; a closed shape keeps every other corner."""
    if stroke.kind == "line":
        return _path((stroke.points[0], stroke.points[len(stroke.points) // 2], stroke.points[-1]))
    return f"{_path(stroke.points[::2])}Z"


def _box(drawing: MapDrawing) -> str:
    """Only what is drawn: the room for words is cut off."""
    bands = [place for row in drawing.rows for cell in row.cells for place in cell.band]
    left, right = min(x for x, _ in bands), max(x for x, _ in bands)
    top, bottom = min(y for row in drawing.rows for _, y in row.lid), max(y for _, y in bands)
    return f"{left - 4:.0f} {top - 4:.0f} {right - left + 8:.0f} {bottom - top + 8:.0f}"


def _path(points: Sequence[Place]) -> str:
    return "M" + "L".join([f"{x:.0f} {y:.0f}" for x, y in points])
