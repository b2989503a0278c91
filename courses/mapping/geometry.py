"""Geometry of the drawn eye: a closed lid seen from the front, as the educator faces the head.

Every length is in units of the drawing's view box (376 wide). ``along`` runs from 0 at the inner corner,
by the nose, to 1 at the outer corner. The left eye is computed; the right eye is its mirror.
"""

from dataclasses import dataclass
from math import cos, radians, sin
from typing import Literal

Eye = Literal["R", "L"]

WIDTH = 376.0

_INNER = (80.0, 86.0)
_SAG = (186.0, 158.0)
_OUTER = (292.0, 80.0)
_INNER_TURN = -30.0
_OUTER_TURN = 40.0


@dataclass(frozen=True, slots=True)
class Point:
    x: float
    y: float

    def __str__(self) -> str:
        return f"{self.x:.1f} {self.y:.1f}"


@dataclass(frozen=True, slots=True)
class Lid:
    """One lid cut into ``zones`` equal parts."""

    eye: Eye
    zones: int

    def along(self, zone: int, fraction: float) -> float:
        """Place along the lid of a fraction of a zone, counted from 1 at the inner corner."""
        return (zone - 1 + fraction) / self.zones

    def point(self, along: float, depth: float = 0.0) -> Point:
        """The point ``depth`` below the lid line, measured in the direction the lashes grow there."""
        turn = lash_turn(along)
        x = _bezier(along, 0) + depth * sin(turn)
        y = _bezier(along, 1) + depth * cos(turn)
        return Point(x if self.eye == "L" else WIDTH - x, y)


def lash_turn(along: float) -> float:
    """Radians a lash leans from straight down: to the nose at the inner corner, outwards at the outer."""
    return radians(_INNER_TURN + (_OUTER_TURN - _INNER_TURN) * along)


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


def _placed(lid: Lid, place: tuple[float, float]) -> Point:
    x, y = place
    return Point(x if lid.eye == "L" else WIDTH - x, y)


def _bezier(along: float, axis: int) -> float:
    rest = 1 - along
    return rest * rest * _INNER[axis] + 2 * along * rest * _SAG[axis] + along * along * _OUTER[axis]
