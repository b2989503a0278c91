"""A drawn lash map as a standalone SVG document in black and greys, for print and for tests of the eye.

Classes name every part, so that a page that inlines the picture may colour it; attributes alone already
make it readable. No style attribute and no script: it may stand under a strict content policy.
"""

import re
from collections.abc import Iterable, Iterator
from html import escape

from courses.mapping.drawing import CellDrawing, Label, LayerRow, MapDrawing, Place, Stroke

_INK, _PALE, _PALER = "#1c1c1c", "#ececec", "#f7f7f7"
_NOT_XML = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def svg_text(drawing: MapDrawing, title: str) -> str:
    """SVG 1.1, numbers to one decimal; ``title`` names the picture for those who do not see it."""
    width, height = _number(drawing.width), _number(drawing.height)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" role="img" class="lash-map" fill="none" stroke="{_INK}" '
        'stroke-linecap="round" stroke-linejoin="round" font-family="sans-serif">'
    )
    body = "".join(_body(drawing))
    return f"{head}<title>{_words(title)}</title><desc>{_words(description(drawing))}</desc>{body}</svg>\n"


def description(drawing: MapDrawing) -> str:
    """The drawing in sentences: every layer with the lengths of its zones from the nose outwards."""
    zones = [label.text for label in drawing.zone_labels]
    rows = (
        f"{row.label.text.capitalize()}: "
        + ", ".join(f"{z} {c.label.text} mm" for z, c in zip(zones, row.cells, strict=True))
        for row in drawing.rows
    )
    return f"{drawing.eye.capitalize()} eye, from the nose outwards. {'. '.join(rows)}."


def path_data(strokes: Iterable[Stroke]) -> str:
    """The ``d`` of an SVG path."""
    return "".join(_path(stroke.points, is_closed=stroke.kind != "line") for stroke in strokes)


def _body(drawing: MapDrawing) -> Iterator[str]:
    yield from (_row(row) for row in drawing.rows)
    for tick, label in drawing.directions:
        yield f'<path class="map-direction" stroke-width="1" stroke-dasharray="3 2" d="{path_data([tick])}"/>'
        yield _label(label, "map-degrees")
    yield from (_label(label, "map-zone") for label in drawing.zone_labels)
    yield from (_label(label, "map-hint") for label in drawing.hints)


def _row(row: LayerRow) -> str:
    """Grounds first: fans reach over into the next zone."""
    bands = "".join(_band(each, _PALE if nth % 2 else _PALER) for nth, each in enumerate(row.cells))
    fans = "".join(_cell(each) for each in row.cells)
    lid = f'<path class="map-lid" stroke-width="2.4" d="{_path(row.lid)}"/>'
    return f'<g class="map-row">{bands}{fans}{lid}{_label(row.label, "map-layer")}</g>'


def _band(cell: CellDrawing, ground: str) -> str:
    path = _path(cell.band, is_closed=True)
    return f'<path class="map-band" {_where(cell)} stroke="none" fill="{ground}" d="{path}"/>'


def _cell(cell: CellDrawing) -> str:
    strokes = [stroke for fan in cell.fans for stroke in fan]
    fills = {"line": "none", "outline": "#fff", "solid": _INK}
    fans = "".join(
        f'<path class="map-{kind}" fill="{fill}" stroke-width="{cell.stroke_width:.1f}" '
        f'd="{path_data(alike)}"/>'
        for kind, fill in fills.items()
        if (alike := [stroke for stroke in strokes if stroke.kind == kind])
    )
    return f'<g class="map-cell" {_where(cell)}>{fans}{_label(cell.label, "map-length")}</g>'


def _where(cell: CellDrawing) -> str:
    return f'data-zone="{_words(cell.zone)}" data-layer="{_words(cell.layer)}"'


def _label(label: Label, name: str) -> str:
    return (
        f'<text class="{name}" x="{_number(label.x)}" y="{_number(label.y)}" fill="{_INK}" stroke="none" '
        f'font-size="{_number(label.size)}" text-anchor="{label.anchor}">{_words(label.text)}</text>'
    )


def _path(points: Iterable[Place], *, is_closed: bool = False) -> str:
    return "M" + "L".join([f"{x:.1f} {y:.1f}" for x, y in points]) + ("Z" if is_closed else "")


def _number(value: float) -> str:
    return f"{value:.1f}"


def _words(text: str) -> str:
    return escape(_NOT_XML.sub("", text))
