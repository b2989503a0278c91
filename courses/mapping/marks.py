"""Where inspected fans are marked on the drawing, so that no mark hides another."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import dist

from courses.mapping.drawing import Place, Sketch
from courses.mapping.lash_map import LashMap, MapError, place_words

CLEAR = 16.0  # units between the middles of two marks: the larger touch, and none hides another
_FIRST_TRACK = 10.0
_FEWEST_TRACKS = 3


@dataclass(frozen=True, slots=True)
class Spot:
    """One fan of a cell, counted from 1 at the inner corner."""

    zone: str
    layer: str
    fan: int
    fans_in_cell: int


def place_marks(lash_map: LashMap, eye: str, spots: Sequence[Spot]) -> tuple[Place, ...]:
    """A place for each spot: on the axis of its fan, halfway along it, or nearer or farther from the lid
    where a neighbour is in the way. Raises MapError ``unknown_place``.
    """
    sketch = Sketch(lash_map, eye)
    places: dict[int, Place] = {}
    for nth in sorted(range(len(spots)), key=lambda nth: _order(lash_map, spots[nth])):
        tracks = tuple(_tracks(sketch, spots[nth]))
        free = [place for place in tracks if _room(place, places) >= CLEAR]
        places[nth] = free[0] if free else max(tracks, key=lambda place: _room(place, places))
    return tuple(places[nth] for nth in range(len(spots)))


def _order(lash_map: LashMap, spot: Spot) -> tuple[int, float]:
    """By layer, then from the nose outwards."""
    if spot.zone not in lash_map.zones or spot.layer not in lash_map.layers:
        raise MapError("unknown_place", f"This map has no {place_words('both', spot.zone, spot.layer)}.")
    return lash_map.layers.index(spot.layer), lash_map.zones.index(spot.zone) + _share(spot)


def _share(spot: Spot) -> float:
    """Part of the zone that lies before the fan."""
    return min(max((spot.fan - 0.5) / max(spot.fans_in_cell, 1), 0.0), 1.0)


def _tracks(sketch: Sketch, spot: Spot) -> Iterator[Place]:
    """Places on the fan's axis, the middle one first."""
    nth = sketch.map.layers.index(spot.layer)
    along = sketch.lid.along(sketch.map.zones.index(spot.zone) + 1, _share(spot))
    count = max(_FEWEST_TRACKS, int((sketch.reach(nth) - _FIRST_TRACK) / CLEAR) + 1)
    for track in sorted(range(count), key=lambda track: abs(2 * track - count + 1)):
        yield sketch.at(along, _FIRST_TRACK + track * CLEAR, nth)


def _room(place: Place, others: dict[int, Place]) -> float:
    return min((dist(place, other) for other in others.values()), default=CLEAR)
