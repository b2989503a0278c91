"""The cells of a lash map as inputs of a plain form: what was typed, and what is wrong with it.

An input is named by the place of its value in the map's JSON: ``cells/both/inner/top/lengths/0/length_mm``.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from courses.mapping.lash_map import (
    BOTH,
    MOST_LENGTHS,
    Cell,
    CellKey,
    LashMap,
    keys_of,
    layer_words,
    place_words,
    sides_of,
    zone_words,
)
from courses.mapping.reframe import reframe

Typed = Mapping[str, str]  # the inputs of one cell, by their name within it

SIDE_WORDS = {BOTH: "Both eyes", "left": "Left eye", "right": "Right eye"}


@dataclass(frozen=True, slots=True)
class Frame:
    zones: tuple[str, ...]
    layers: tuple[str, ...]
    eyes: str

    @property
    def keys(self) -> tuple[CellKey, ...]:
        return tuple(keys_of(self.zones, self.layers, self.eyes))


@dataclass(frozen=True, slots=True)
class LengthInput:
    name: str
    length_mm: str
    share_percent: str


@dataclass(frozen=True, slots=True)
class CellInputs:
    """One cell as typed; ``shown`` is short enough for its button in the grid."""

    key: CellKey
    typed: Typed
    problems: tuple[str, ...]

    @property
    def name(self) -> str:
        return "/".join(("cells", *self.key))

    @property
    def id(self) -> str:
        return "-".join(("cell", *self.key))

    @property
    def place(self) -> str:
        return place_words(*self.key)

    @property
    def zone(self) -> str:
        return zone_words(self.key[1])

    @property
    def shown(self) -> str:
        lengths = [row.length_mm or "?" for row in self.lengths if row.length_mm or row.share_percent]
        return "/".join(lengths) if len(lengths) < 3 else f"{lengths[0]}–{lengths[-1]}"

    @property
    def opening(self) -> tuple[str, str]:
        return self.typed.get("opening_deg/0", ""), self.typed.get("opening_deg/1", "")

    @property
    def lengths(self) -> list[LengthInput]:
        """What was typed, and a blank row while there is room for one."""
        rows = [
            LengthInput(f"{self.name}/lengths/{nth}", *pair) for nth, pair in enumerate(_pairs(self.typed))
        ]
        if len(rows) < MOST_LENGTHS:
            rows.append(LengthInput(f"{self.name}/lengths/{len(rows)}", "", ""))
        return rows


@dataclass(frozen=True, slots=True)
class LayerInputs:
    layer: str
    cells: tuple[CellInputs, ...]


@dataclass(frozen=True, slots=True)
class SideInputs:
    side: str
    words: str
    layers: tuple[LayerInputs, ...]


def typed_cells(data: Mapping[str, Any]) -> dict[CellKey, dict[str, str]]:
    """The cells in what a browser sent; names that are not of a cell are passed over."""
    found: dict[CellKey, dict[str, str]] = {}
    for name in data:
        parts = name.split("/", 4)
        if len(parts) == 5 and parts[0] == "cells":
            _, side, zone, layer, rest = parts
            found.setdefault((side, zone, layer), {})[rest] = str(data[name]).strip()
    return found


def typed_map(lash_map: LashMap) -> dict[CellKey, dict[str, str]]:
    """What somebody would type for this map."""
    return {key: _typed(planned) for key, planned in lash_map.cells.items()}


def refit(
    cells: Mapping[CellKey, dict[str, str]], old_zones: tuple[str, ...], frame: Frame
) -> dict[CellKey, dict[str, str]]:
    """What was typed, on another frame."""
    return reframe(cells, old_zones, frame.zones, frame.layers, frame.eyes)


def cells_json(cells: Mapping[CellKey, Typed]) -> dict[str, Any]:
    """The cells as the map's JSON has them; what is no whole number stays text, to be refused in words."""
    found: dict[str, dict[str, dict[str, Any]]] = {}
    for (side, zone, layer), typed in cells.items():
        found.setdefault(side, {}).setdefault(zone, {})[layer] = _cell_json(typed)
    return found


def side_inputs(
    frame: Frame, cells: Mapping[CellKey, Typed], problems: Mapping[CellKey, Iterable[str]]
) -> Iterator[SideInputs]:
    for side in reversed(sides_of(frame.eyes)):  # the right eye first, as the drawing has it
        layers = []
        for layer in frame.layers:
            keys = [(side, zone, layer) for zone in frame.zones]
            line = tuple(CellInputs(key, cells.get(key, {}), tuple(problems.get(key, ()))) for key in keys)
            layers.append(LayerInputs(layer_words(layer), line))
        yield SideInputs(side, SIDE_WORDS[side], tuple(layers))


def whole(typed: str) -> int | str | None:
    """A whole number where one was typed; nothing is None."""
    text = typed.strip()
    digits = text.removeprefix("-").removeprefix("−")
    if digits.isdecimal() and len(digits) < 7:
        return -int(digits) if text != digits else int(digits)
    return text or None


def _pairs(typed: Typed) -> list[tuple[str, str]]:
    """Lengths with their shares, blank rows left out."""
    rows = [
        (typed.get(f"lengths/{nth}/length_mm", ""), typed.get(f"lengths/{nth}/share_percent", ""))
        for nth in range(MOST_LENGTHS)
    ]
    return [row for row in rows if any(row)]


def _cell_json(typed: Typed) -> dict[str, Any]:
    shape = typed.get("fan_shape", "")
    low, high = (whole(typed.get(f"opening_deg/{nth}", "")) for nth in (0, 1))
    has_opening = shape == "open" and (low, high) != (None, None)
    return {
        "lengths": [
            {"length_mm": whole(length), "share_percent": whole(share)} for length, share in _pairs(typed)
        ],
        "fan_shape": shape,
        "filaments": whole(typed.get("filaments", "")),
        "diameter_hundredths": whole(typed.get("diameter_hundredths", "")),
        "curl": typed.get("curl", ""),
        "opening_deg": [low, high] if has_opening else None,
    }


def _typed(planned: Cell) -> dict[str, str]:
    fan = planned.fan
    values: dict[str, object] = {
        "fan_shape": fan.shape,
        "filaments": fan.filaments,
        "diameter_hundredths": fan.diameter_hundredths,
        "curl": fan.curl,
    }
    if fan.shape == "open":
        values |= {"opening_deg/0": fan.opening_min_deg, "opening_deg/1": fan.opening_max_deg}
    for nth, part in enumerate(planned.lengths):
        values |= {f"lengths/{nth}/length_mm": part.length_mm, f"lengths/{nth}/share_percent": part.share}
    return {name: str(value) for name, value in values.items()}
