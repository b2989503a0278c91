"""The one drawing of a lash map: plain, chosen from, or marked with what an inspection found."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django import template

from courses.mapping.drawing import CellDrawing, Label, LayerRow, Place, draw_map
from courses.mapping.geometry import Lid, brow_line, lid_skin
from courses.mapping.lash_map import EYES, CellKey, LashMap, place_words
from courses.mapping.marks import Spot, place_marks
from courses.mapping.svg import description, path_data

register = template.Library()

KINDS = ("clean", "faulty", "long", "short", "bare", "unseen")
KIND_WORDS = {
    "clean": "clean",
    "faulty": "faulty",
    "long": "longer than the map",
    "short": "shorter than the map",
    "bare": "bare",
    "unseen": "not yet seen",
}


@dataclass(frozen=True, slots=True)
class Text:
    """Words at a place; numbers are ready-made text so that no locale can alter them."""

    text: str
    x: str
    y: str
    size: str
    anchor: str


@dataclass(frozen=True, slots=True)
class CellPicture:
    zone: str
    layer: str
    band: str
    paths: tuple[tuple[str, str], ...]
    stroke_width: str
    label: Text


@dataclass(frozen=True, slots=True)
class RowPicture:
    lid: str
    label: Text
    cells: tuple[CellPicture, ...]


@dataclass(frozen=True, slots=True)
class MarkPicture:
    """``told``: what was found there, in words."""

    index: int
    label: str
    kind: str
    is_current: bool
    x: str
    y: str
    place: str
    told: str


@dataclass(frozen=True, slots=True)
class EyePicture:
    """Everything the component writes for one eye."""

    eye: str
    width: str
    height: str
    brow: str
    skin: str
    rows: tuple[RowPicture, ...]
    zones: tuple[Text, ...]
    ticks: tuple[tuple[str, Text], ...]
    hints: tuple[Text, ...]
    marks: tuple[MarkPicture, ...]
    lengths: str

    @property
    def side(self) -> str:
        return "right" if self.eye == "R" else "left"

    @property
    def summary(self) -> str:
        """The drawing in words, for those who do not see it."""
        counts = [(sum(mark.kind == kind for mark in self.marks), KIND_WORDS[kind]) for kind in KINDS]
        told = ", ".join(f"{count} {words}" for count, words in counts if count)
        here = next((f" Current position: {mark.place}." for mark in self.marks if mark.is_current), "")
        return f"{self.lengths} {len(self.marks)} positions: {told}.{here}" if self.marks else self.lengths


@register.inclusion_tag("components/_lash_map.html")
def eye_diagram(
    lash_map: LashMap, eye: str, marks: Iterable[Any] = (), current: int | None = None
) -> dict[str, Any]:
    """One eye of a map; ``marks`` as `draw_eye` takes them."""
    return pictures(lash_map, (eye,), marks, current)


@register.inclusion_tag("components/_lash_map.html")
def both_eyes(lash_map: LashMap, marks: Iterable[Any] = (), current: int | None = None) -> dict[str, Any]:
    """Right and left side by side, as seen by someone who faces the head; each mark says its eye."""
    return pictures(lash_map, ("right", "left"), marks, current)


@register.filter
def cell_id(key: CellKey) -> str:
    """The id of a cell's inputs on the page."""
    return "-".join(("cell", *key))


def pictures(
    lash_map: LashMap, eyes: Iterable[str], marks: Iterable[Any] = (), current: int | None = None
) -> dict[str, Any]:
    """Context of components/_lash_map.html; the legend names the shapes that occur."""
    listed = list(marks or ())
    drawn = [draw_eye(lash_map, eye, listed, current) for eye in eyes]
    found = {mark.kind for picture in drawn for mark in picture.marks}
    legend = [(kind, KIND_WORDS[kind]) for kind in KINDS if kind in found]
    return {"eyes": drawn, "legend": legend}


def draw_eye(
    lash_map: LashMap, eye: str, marks: Iterable[Any] = (), current: int | None = None
) -> EyePicture:
    """One eye. ``marks`` (dicts or objects) may hold both eyes: the other eye's are left out.

    A mark has eye, zone, layer, fan and fans_in_cell, and may have index, label, kind and told.
    Raises MapError for a place the map does not have, ValueError for an eye that is neither.
    """
    if eye not in EYES:
        raise ValueError(f"The eye must be left or right, not {eye!r}.")
    drawing, lid = draw_map(lash_map, eye), Lid("R" if eye == "right" else "L", len(lash_map.zones))
    return EyePicture(
        eye=lid.eye,
        width=f"{drawing.width:.0f}",
        height=f"{drawing.height:.0f}",
        brow=brow_line(lid),
        skin=lid_skin(lid),
        rows=tuple(_row(row) for row in drawing.rows),
        zones=tuple(_text(label) for label in drawing.zone_labels),
        ticks=tuple((path_data([tick]), _text(label)) for tick, label in drawing.directions),
        hints=tuple(_text(label) for label in drawing.hints),
        marks=_marks(lash_map, eye, list(enumerate(marks)), current),
        lengths=description(drawing),
    )


def _row(row: LayerRow) -> RowPicture:
    return RowPicture(_path(row.lid), _text(row.label), tuple(_cell(each) for each in row.cells))


def _cell(cell: CellDrawing) -> CellPicture:
    strokes = [stroke for fan in cell.fans for stroke in fan]
    kinds = dict.fromkeys(stroke.kind for stroke in strokes)
    paths = tuple((kind, path_data(each for each in strokes if each.kind == kind)) for kind in kinds)
    band = f"{_path(cell.band)}Z"
    return CellPicture(cell.zone, cell.layer, band, paths, f"{cell.stroke_width:.1f}", _text(cell.label))


def _text(label: Label) -> Text:
    return Text(label.text, f"{label.x:.1f}", f"{label.y:.1f}", f"{label.size:.1f}", label.anchor)


def _path(points: Iterable[Place]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _marks(
    lash_map: LashMap, eye: str, marks: list[tuple[int, Any]], current: int | None
) -> tuple[MarkPicture, ...]:
    """The marks of one eye in their order, the current one last so that it lies on top."""
    here = [(nth, mark) for nth, mark in marks if _read(mark, "eye", eye) == eye]
    spots = [_spot(mark) for _, mark in here]
    places = place_marks(lash_map, eye, spots)
    drawn = (
        _mark(nth, mark, spot, place, current)
        for (nth, mark), spot, place in zip(here, spots, places, strict=True)
    )
    return tuple(sorted(drawn, key=lambda mark: (mark.is_current, mark.index)))


def _spot(mark: Any) -> Spot:
    return Spot(
        zone=str(_read(mark, "zone", "")),
        layer=str(_read(mark, "layer", "")),
        fan=int(_read(mark, "fan", 1)),
        fans_in_cell=int(_read(mark, "fans_in_cell", 1)),
    )


def _mark(nth: int, mark: Any, spot: Spot, place: Place, current: int | None) -> MarkPicture:
    index, kind = int(_read(mark, "index", nth)), str(_read(mark, "kind", "unseen"))
    kind = kind if kind in KINDS else "unseen"
    x, y = place
    return MarkPicture(
        index=index,
        label=str(_read(mark, "label", index + 1)),
        kind=kind,
        is_current=index == current,
        x=f"{x:.1f}",
        y=f"{y:.1f}",
        place=f"{place_words('both', spot.zone, spot.layer)}, fan {spot.fan}",
        told=str(_read(mark, "told", KIND_WORDS[kind])),
    )


def _read(mark: Any, name: str, default: Any) -> Any:
    value = mark.get(name) if isinstance(mark, Mapping) else getattr(mark, name, None)
    return default if value is None else value
