"""A map laid out on other zones, layers or eyes: every new place takes over what stood nearest to it."""

from collections.abc import Mapping
from typing import TypeVar

from courses.mapping.lash_map import BOTH, EYES, LAYERS, CellKey, keys_of, sides_of

T = TypeVar("T")


def reframe(
    cells: Mapping[CellKey, T],
    old_zones: tuple[str, ...],
    zones: tuple[str, ...],
    layers: tuple[str, ...],
    eyes: str,
) -> dict[CellKey, T]:
    """``cells`` on the new frame, whatever a cell is; ``old_zones`` gives their order along the lid.

    The frame given back is the frame given when nothing changes. Left out are places with nothing near.
    """
    found: dict[CellKey, T] = {}
    for side, zone, layer in keys_of(zones, layers, eyes):
        nearest = zone if zone in old_zones else _nearest_zone(zone, old_zones, zones)
        for key in _sources(side, nearest, layer, eyes):
            if key in cells:
                found[side, zone, layer] = cells[key]
                break
    return found


def _nearest_zone(zone: str, old_zones: tuple[str, ...], zones: tuple[str, ...]) -> str:
    """The old zone over the middle of the new one."""
    middle = (zones.index(zone) + 0.5) / len(zones)
    return old_zones[int(middle * len(old_zones))] if old_zones else zone


def _sources(side: str, zone: str, layer: str, eyes: str) -> list[CellKey]:
    """Where a cell may come from, the nearest first: its own layer, then the others from the top."""
    own = dict.fromkeys((*sides_of(eyes), BOTH, *EYES))
    sides = [side, *(each for each in own if each != side)]
    layers = [layer, *(each for each in LAYERS if each != layer)]
    return [(each, zone, at) for at in layers for each in sides]
