"""The lash map drawn: one closed eye, one lid line a layer, fans at true relative length, opening and curl.

Plain data in units of the view box, x to the right and y down. The left eye is computed as the educator
faces the head, nose at the left; the right eye is its mirror. A millimetre of lash has the same length in
every drawing, so that briefs can be compared. Shape tells the fan, not colour: an open fan is separate
strokes, a closed fan an outline with a blunt end, a spike a solid point; thicker filaments are thicker lines.
"""

from cmath import exp
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import radians
from typing import Literal

from courses.mapping.counts import largest_remainder, spread
from courses.mapping.geometry import WIDTH, Lid, lash_turn
from courses.mapping.lash_map import Cell, Direction, Fan, LashMap, cell, layer_words, zone_words

UNITS_A_MM = 4.2
FANS_A_ROW = 20
MOST_STROKES = 7
# How each curl is drawn: the share of the length that stays straight, then the bend in degrees. Curls have no
# standard geometry, so only their order is meant. A letter not listed here is drawn straight.
DRAWN_CURLS: Mapping[str, tuple[float, float]] = {
    "J": (0.3, 8),
    "B": (0.2, 14),
    "C": (0.1, 22),
    "CC": (0.05, 29),
    "D": (0.0, 36),
    "DD": (0.0, 44),
    "L": (0.5, 34),
    "LC": (0.4, 40),
    "M": (0.6, 42),
    "U": (0.0, 52),
}

_LID_LOW = 122.0
_LID_HIGH = 80.0
_ROW_ROOM = 24.0
_FOOT = 34.0
_LETTER = 0.56  # width of a letter beside its size, generous for a plain sans
_SEGMENTS = 5
_STEPS_A_ZONE = 6

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A ``line``, an ``outline`` (closed, empty) or a ``solid`` (closed, filled)."""

    kind: Literal["line", "outline", "solid"]
    points: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class Label:
    text: str
    x: float
    y: float
    size: float
    anchor: Literal["start", "middle", "end"] = "middle"

    @property
    def span(self) -> tuple[float, float]:
        """Where it begins and ends, estimated from its letters."""
        width = len(self.text) * self.size * _LETTER
        left = self.x - {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        return left, left + width


@dataclass(frozen=True, slots=True)
class CellDrawing:
    """One zone of one layer. ``fans`` are examples: every length of the mix at least once, evenly spread."""

    zone: str
    layer: str
    band: tuple[Place, ...]
    fans: tuple[tuple[Stroke, ...], ...]
    stroke_width: float
    label: Label


@dataclass(frozen=True, slots=True)
class LayerRow:
    layer: str
    lid: tuple[Place, ...]
    label: Label
    cells: tuple[CellDrawing, ...]


@dataclass(frozen=True, slots=True)
class MapDrawing:
    """One eye in the view box ``0 0 width height``; ``directions`` are ticks on the lid with their degrees."""

    eye: str
    width: float
    height: float
    rows: tuple[LayerRow, ...]
    zone_labels: tuple[Label, ...]
    directions: tuple[tuple[Stroke, Label], ...]
    hints: tuple[Label, ...]

    def strokes(self) -> Iterator[tuple[Stroke, float]]:
        """Every stroke of a fan with its width."""
        for row in self.rows:
            for each in row.cells:
                for fan in each.fans:
                    yield from ((stroke, each.stroke_width) for stroke in fan)

    def labels(self) -> Iterator[Label]:
        yield from self.hints
        yield from self.zone_labels
        yield from (label for _, label in self.directions)
        for row in self.rows:
            yield row.label
            yield from (each.label for each in row.cells)


def draw_map(lash_map: LashMap, eye: str) -> MapDrawing:
    """One eye, "left" or "right", drawn from its cells. Both eyes of a map have the same view box."""
    sketch = _Sketch(lash_map, eye)
    return MapDrawing(
        eye=eye,
        width=WIDTH,
        height=sketch.height,
        rows=tuple(_row(sketch, nth) for nth in range(len(lash_map.layers))),
        zone_labels=tuple(_zone_label(sketch, number) for number in range(1, len(lash_map.zones) + 1)),
        directions=tuple(_direction(sketch, each) for each in lash_map.directions),
        hints=(
            sketch.label(eye[0].upper(), 352.0, 44.0, 26.0),
            sketch.label("nose", 6.0, sketch.height - 8.0, 11.0, "start"),
        ),
    )


def draw_both(lash_map: LashMap) -> tuple[MapDrawing, MapDrawing]:
    """Right and left, in the order in which the educator sees them."""
    return draw_map(lash_map, "right"), draw_map(lash_map, "left")


def fan_place(lash_map: LashMap, eye: str, zone: str, layer: str, fan: int, fans_in_cell: int) -> Place:
    """Where a mark for one fan goes in the drawing: halfway along a fan of the row's longest length."""
    sketch = _Sketch(lash_map, eye)
    nth = lash_map.layers.index(layer)
    along = sketch.lid.along(lash_map.zones.index(zone) + 1, (fan - 0.5) / fans_in_cell)
    return sketch.at(along, sketch.reach(nth) / 2, nth)


def direction_deg(directions: tuple[Direction, ...], along: float) -> float:
    """Degrees from straight down at a place of the lid, linear between the given points, level beyond them.

    Without given points lashes lean as they grow: to the nose at the inner corner, outwards at the outer.
    """
    if not directions:
        return lash_turn(along) * 180 / radians(180)
    before = [each for each in directions if each.along_percent <= 100 * along]
    after = [each for each in directions if each.along_percent > 100 * along]
    if not before or not after:
        return (before[-1] if before else after[0]).degrees
    low, high = before[-1], after[0]
    share = (100 * along - low.along_percent) / (high.along_percent - low.along_percent)
    return low.degrees + share * (high.degrees - low.degrees)
