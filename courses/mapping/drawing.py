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
from math import degrees, radians
from typing import Literal

from courses.mapping.counts import largest_remainder, spread
from courses.mapping.geometry import WIDTH, Lid, lash_turn
from courses.mapping.lash_map import Cell, Direction, Fan, LashMap, cell, layer_words, zone_words

UNITS_A_MM = 4.2
FANS_A_ROW = 16
MOST_STROKES = 6
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
_ROW_ROOM = 33.0
_FOOT = 24.0
_LETTER = 0.56  # width of a letter beside its size, generous for a plain sans
_SEGMENTS = 5
_STEPS_A_LID = 24

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
    """One eye in the view box ``0 0 width height``; ``directions``: ticks on the lid and their degrees."""

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
    sketch = Sketch(lash_map, eye)
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


def direction_deg(directions: tuple[Direction, ...], along: float) -> float:
    """Degrees from straight down at a place of the lid, linear between the given points, level beyond them.

    Without given points lashes lean as they grow: to the nose at the inner corner, outwards at the outer.
    """
    if not directions:
        return degrees(lash_turn(along))
    before = [each for each in directions if each.along_percent <= 100 * along]
    after = [each for each in directions if each.along_percent > 100 * along]
    if not before or not after:
        return (before[-1] if before else after[0]).degrees
    low, high = before[-1], after[0]
    share = (100 * along - low.along_percent) / (high.along_percent - low.along_percent)
    return low.degrees + share * (high.degrees - low.degrees)


class Sketch:
    """Where things lie; computed for the left eye and mirrored on the way out."""

    def __init__(self, lash_map: LashMap, eye: str) -> None:
        self.map = lash_map
        self.eye = eye
        self.is_mirrored = eye == "right"
        self.lid = Lid("L", len(lash_map.zones))
        self._reach = [_longest_mm(lash_map, layer) * UNITS_A_MM for layer in lash_map.layers]
        self._top = [sum(self._reach[:nth]) + nth * _ROW_ROOM for nth in range(len(self._reach))]
        self.height = round(_LID_LOW + self._top[-1] + self._reach[-1] + _ROW_ROOM + _FOOT)

    def reach(self, nth: int) -> float:
        """How far the longest fan of a row reaches from its lid line."""
        return self._reach[nth]

    def root(self, along: float, nth: int, depth: float = 0.0) -> complex:
        """A point of the left eye: ``depth`` from a row's lid line in the direction the lashes grow."""
        point = self.lid.point(along, depth)
        return complex(point.x, point.y + self._top[nth])

    def at(self, along: float, depth: float, nth: int) -> Place:
        return self.out(self.root(along, nth, depth))

    def out(self, point: complex) -> Place:
        return (WIDTH - point.real if self.is_mirrored else point.real, point.imag)

    def label(
        self, text: str, x: float, y: float, size: float, anchor: Literal["start", "middle", "end"] = "middle"
    ) -> Label:
        """A label given for the left eye, moved sideways where it would leave the view box."""
        if self.is_mirrored:
            x = WIDTH - x
            anchor = {"start": "end", "end": "start"}.get(anchor, "middle")  # type: ignore[assignment]
        left, right = Label(text, x, y, size, anchor).span
        return Label(text, x + max(0.0, 2 - left) - max(0.0, right - WIDTH + 2), y, size, anchor)


def _longest_mm(lash_map: LashMap, layer: str) -> int:
    return max(found.longest_mm for (_, _, at), found in lash_map.cells.items() if at == layer)


def _row(sketch: Sketch, nth: int) -> LayerRow:
    layer = sketch.map.layers[nth]
    start = sketch.root(0.0, nth)
    return LayerRow(
        layer=layer,
        lid=tuple(sketch.at(step / _STEPS_A_LID, 0.0, nth) for step in range(_STEPS_A_LID + 1)),
        label=sketch.label(layer_words(layer), 4.0, start.imag - 3, 10.0, "start"),
        cells=tuple(_cell(sketch, nth, number) for number in range(1, len(sketch.map.zones) + 1)),
    )


def _cell(sketch: Sketch, nth: int, number: int) -> CellDrawing:
    zone, layer = sketch.map.zones[number - 1], sketch.map.layers[nth]
    planned = cell(sketch.map, sketch.eye, zone, layer)
    middle = sketch.root(sketch.lid.along(number, 0.5), nth, sketch.reach(nth) + 11)
    return CellDrawing(
        zone=zone,
        layer=layer,
        band=_band(sketch, nth, number),
        fans=tuple(_fans(sketch, nth, number, planned)),
        stroke_width=stroke_width(planned.fan.diameter_hundredths),
        label=sketch.label(lengths_words(planned), middle.real, middle.imag + 3, _small(sketch, 10.0)),
    )


def stroke_width(diameter_hundredths: int) -> float:
    """Thicker filaments are thicker lines, 0.5 units for 0.03 mm and 1.7 for 0.25 mm."""
    return round(0.34 + 0.055 * min(diameter_hundredths, 30), 2)


def lengths_words(planned: Cell) -> str:
    """9, 8/12 or 8–12 for one, two or more lengths in mm."""
    lengths = [str(part.length_mm) for part in planned.lengths]
    return "/".join(lengths) if len(lengths) < 3 else f"{lengths[0]}–{lengths[-1]}"


def _small(sketch: Sketch, size: float) -> float:
    return size if len(sketch.map.zones) <= 5 else 0.8 * size


def _band(sketch: Sketch, nth: int, number: int) -> tuple[Place, ...]:
    steps = _STEPS_A_LID // sketch.lid.zones
    alongs = [sketch.lid.along(number, step / steps) for step in range(steps + 1)]
    near = [sketch.at(along, 1.5, nth) for along in alongs]
    return (*near, *(sketch.at(along, sketch.reach(nth) + 3, nth) for along in reversed(alongs)))


def _fans(sketch: Sketch, nth: int, number: int, planned: Cell) -> Iterator[tuple[Stroke, ...]]:
    lengths = _example_lengths(planned, max(2, round(FANS_A_ROW / sketch.lid.zones), len(planned.lengths)))
    for index, length_mm in enumerate(lengths):
        along = sketch.lid.along(number, (index + 0.5) / len(lengths))
        turn = radians(direction_deg(sketch.map.directions, along))
        root = complex(*sketch.at(along, 0.0, nth))
        rotation = exp(1j * turn if sketch.is_mirrored else -1j * turn)
        yield tuple(
            Stroke(kind, _places([point * rotation + root for point in points]))
            for kind, points in _fan(planned.fan, length_mm, is_mirrored=sketch.is_mirrored)
        )


def _places(points: list[complex]) -> tuple[Place, ...]:
    return tuple([(point.real, point.imag) for point in points])


def _example_lengths(planned: Cell, fans: int) -> list[int]:
    parts = planned.lengths
    more = largest_remainder(fans - len(parts), [part.share for part in parts], range(len(parts)))
    return [parts[nth].length_mm for nth in spread(tuple(1 + extra for extra in more), fans)]


_Shape = tuple[Literal["line", "outline", "solid"], tuple[complex, ...]]


@lru_cache(maxsize=1024)
def _fan(fan: Fan, length_mm: int, *, is_mirrored: bool) -> tuple[_Shape, ...]:
    """Strokes of one fan that hangs straight down from 0."""
    strokes = _strokes(fan, _filament(fan.curl, length_mm), stroke_width(fan.diameter_hundredths))
    if not is_mirrored:
        return strokes
    return tuple((kind, tuple(-point.conjugate() for point in points)) for kind, points in strokes)


def _strokes(fan: Fan, filament: tuple[complex, ...], width: float) -> tuple[_Shape, ...]:
    if fan.filaments == 1:
        return (("line", filament),)
    if fan.shape == "spike":
        return (("solid", _pointed(filament, 0.9 + width / 2)),)
    if fan.shape == "closed":
        half = (1.3 + width / 2) / abs(filament[-1])
        return (("outline", _turned(filament, -half) + _turned(filament, half)[:0:-1]),)
    return tuple(("line", _turned(filament, part)) for part in _openings(fan))


def _openings(fan: Fan) -> list[float]:
    """Radians of each stroke off the middle of an open fan, its target opening being the mid of its range."""
    opening = radians(((fan.opening_min_deg or 0) + (fan.opening_max_deg or 0)) / 2)
    strokes = min(fan.filaments, MOST_STROKES)
    return [opening * (nth / (strokes - 1) - 0.5) for nth in range(strokes)]


@lru_cache(maxsize=512)
def _filament(curl: str, length_mm: int) -> tuple[complex, ...]:
    """A filament hanging straight down from 0 and bending outwards; the chain has its length exactly."""
    straight, bend = DRAWN_CURLS.get(curl, (0.0, 0.0))
    step = length_mm * UNITS_A_MM / _SEGMENTS
    points = [0j]
    for nth in range(_SEGMENTS):
        share = max(0.0, ((nth + 0.5) / _SEGMENTS - straight) / (1 - straight))
        points.append(points[-1] + step * 1j * exp(-1j * radians(bend * share)))
    return tuple(points)


def _turned(points: tuple[complex, ...], turn: float) -> tuple[complex, ...]:
    rotation = exp(-1j * turn)
    return tuple(point * rotation for point in points)


def _pointed(filament: tuple[complex, ...], half: float) -> tuple[complex, ...]:
    """A solid that is ``half`` wide to each side at the root and nothing at the tip."""
    widths = [half * (1 - nth / _SEGMENTS) for nth in range(_SEGMENTS + 1)]
    left = [point - wide for point, wide in zip(filament, widths, strict=True)]
    right = [point + wide for point, wide in zip(filament, widths, strict=True)]
    return (*left, *right[-2::-1])


def _zone_label(sketch: Sketch, number: int) -> Label:
    last = len(sketch.map.layers) - 1
    lower = 12.0 if sketch.lid.zones > 5 and number % 2 == 0 else 0.0
    at = sketch.root(sketch.lid.along(number, 0.5), last, sketch.reach(last) + 26 + lower)
    words = zone_words(sketch.map.zones[number - 1])
    return sketch.label(words, at.real, at.imag + 3, 11.0 if sketch.lid.zones <= 5 else 9.0)


def _direction(sketch: Sketch, each: Direction) -> tuple[Stroke, Label]:
    """A tick on the lid above the first row, in line with the lashes below it."""
    root, turn = sketch.root(each.along_percent / 100, 0), radians(each.degrees)
    up = -1j * exp(-1j * turn)
    tick = Stroke("line", (sketch.out(root + 4 * up), sketch.out(root + 18 * up)))
    at = root + 25 * up
    return tick, sketch.label(f"{each.degrees}°".replace("-", "−"), at.real, at.imag + 3, 9.0)
