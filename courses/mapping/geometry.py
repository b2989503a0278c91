"""Geometry of the drawn eye: a closed lid seen from the front, as the educator faces the head.

Every length is in units of the drawing's view box (376 wide). ``along`` runs from 0 at the inner corner,
by the nose, to 1 at the outer corner. The left eye is computed; the right eye is its mirror.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, radians, sin
from typing import Literal

Eye = Literal["R", "L"]

WIDTH = 376.0
HEIGHT = 250.0

_INNER = (80.0, 86.0)
_SAG = (186.0, 158.0)
_OUTER = (292.0, 80.0)
_INNER_TURN = -30.0
_OUTER_TURN = 40.0
_FIRST_ROW = 7.0
_ROWS_DEPTH = 88.0
_FANS_A_ROW = 18
_STEPS_A_BAND = 6
_CROWDED = 0.075
_LEAN = 0.17


@dataclass(frozen=True, slots=True)
class Point:
    x: float
    y: float

    def __str__(self) -> str:
        return f"{self.x:.1f} {self.y:.1f}"


@dataclass(frozen=True, slots=True)
class Lid:
    """One lid cut into ``zones`` equal parts, with ``layers`` rows of fans below the lid line."""

    eye: Eye
    zones: int
    layers: int

    @property
    def row_depth(self) -> float:
        return _ROWS_DEPTH / max(self.layers, 2)

    @property
    def rim(self) -> float:
        """How far the last row reaches from the lid line."""
        return _FIRST_ROW + self.layers * self.row_depth

    def along(self, zone: int, fraction: float) -> float:
        """Place along the lid of a fraction of a zone, counted from 1 at the inner corner."""
        return (zone - 1 + fraction) / self.zones

    def depth(self, layer: int, share: float = 0.5) -> float:
        """Distance from the lid line of a share of a row, counted from 1 at the lid line."""
        return _FIRST_ROW + (layer - 1 + share) * self.row_depth

    def point(self, along: float, depth: float = 0.0) -> Point:
        """The point ``depth`` below the lid line, measured in the direction the lashes grow there."""
        turn = lash_turn(along)
        x = _bezier(along, 0) + depth * sin(turn)
        y = _bezier(along, 1) + depth * cos(turn)
        return Point(x if self.eye == "L" else WIDTH - x, y)


def lash_turn(along: float) -> float:
    """Radians a lash leans from straight down: to the nose at the inner corner, outwards at the outer."""
    return radians(_INNER_TURN + (_OUTER_TURN - _INNER_TURN) * along)


def leans(alongs: Sequence[float]) -> list[float]:
    """Share of the row each mark of one row sits at: half, or to and fro where neighbours would touch."""
    order = sorted(range(len(alongs)), key=alongs.__getitem__)
    shares = [0.5] * len(alongs)
    lean = _LEAN
    for before, after in pairwise(order):
        if alongs[after] - alongs[before] < _CROWDED:
            if shares[before] == 0.5:
                shares[before] = 0.5 + lean
            lean = 0.5 - shares[before]
            shares[after] = 0.5 + lean
    return shares


def lid_line(lid: Lid) -> str:
    """The lid line as an SVG path; `Lid.point` at depth 0 runs along it."""
    inner, sag, outer = (_placed(lid, corner) for corner in (_INNER, _SAG, _OUTER))
    return f"M{inner} Q{sag} {outer}"


def lid_skin(lid: Lid) -> str:
    """The lid above its line, closed, as an SVG path."""
    crown = _placed(lid, (184.0, 18.0))
    return f"{lid_line(lid)} Q{crown} {_placed(lid, _INNER)} Z"


def brow_line(lid: Lid) -> str:
    """The brow, as an SVG path that narrows outwards."""
    names = ((66.0, 36.0), (158.0, -4.0), (312.0, 38.0), (162.0, 12.0))
    start, over, end, under = (_placed(lid, place) for place in names)
    return f"M{start} Q{over} {end} Q{under} {_placed(lid, (70.0, 44.0))} Z"


def nose_line(lid: Lid) -> str:
    """The side of the nose, as an SVG path."""
    places = ((34.0, 52.0), (30.0, 120.0), (12.0, 158.0), (12.0, 186.0), (22.0, 204.0))
    a, b, c, d, e = (_placed(lid, place) for place in places)
    return f"M{a} Q{b} {c} Q{d} {e}"


def zone_band(lid: Lid, zone: int) -> str:
    """The ground of one zone, from the lid line to the last row, as a closed SVG path."""
    places = [lid.along(zone, step / _STEPS_A_BAND) for step in range(_STEPS_A_BAND + 1)]
    near = [lid.point(place, 2.0) for place in places]
    far = [lid.point(place, lid.rim) for place in reversed(places)]
    return "M" + " L".join(str(point) for point in near + far) + " Z"


def fan_strokes(lid: Lid, layer: int) -> str:
    """A row of open fans, three strokes each, as one SVG path."""
    fans_a_zone = max(2, round(_FANS_A_ROW / lid.zones))
    count = fans_a_zone * lid.zones
    return " ".join(_fan(lid, layer, (index + 0.5) / count) for index in range(count))


def _fan(lid: Lid, layer: int, along: float) -> str:
    base = lid.point(along, lid.depth(layer, 0.08))
    tips = (lid.point(along + spread, lid.depth(layer, reach)) for spread, reach in _FAN_TIPS)
    return " ".join(f"M{base} L{tip}" for tip in tips)


_FAN_TIPS = ((-0.018, 0.8), (0.0, 0.92), (0.018, 0.8))


def _placed(lid: Lid, place: tuple[float, float]) -> Point:
    x, y = place
    return Point(x if lid.eye == "L" else WIDTH - x, y)


def _bezier(along: float, axis: int) -> float:
    rest = 1 - along
    return rest * rest * _INNER[axis] + 2 * along * rest * _SAG[axis] + along * along * _OUTER[axis]
