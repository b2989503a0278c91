"""The lash map as JSON, read strictly: what is not understood is told, never dropped.

{"zones": [code], "layers": [code], "eyes": "mirror" | "separate",
 "cells": {"both" | "left" | "right": {zone: {layer: {
     "lengths": [{"length_mm", "share_percent"}], "fan_shape", "filaments", "diameter_hundredths", "curl",
     "opening_deg": [narrowest, widest] | null}}}},
 "directions": [{"along_percent", "degrees"}], "placement": [text], "textured": bool,
 "eye_shape": text, "face_note": text, "natural_length_mm": int | null}
"""

from collections.abc import Iterator, Mapping
from typing import Any

from courses.mapping.lash_map import (
    Cell,
    CellKey,
    Direction,
    Fan,
    LashMap,
    LengthShare,
    MapError,
    cell_keys,
    check_frame,
    keys_of,
    sides_of,
)
from courses.mapping.trade import TradeList, millimetres

TRADE = TradeList()
_MAP_FIELDS = (
    *("zones", "layers", "eyes", "cells", "directions", "placement"),
    *("textured", "eye_shape", "face_note", "natural_length_mm"),
)
# What to type where a whole number is missing or is none.
_WANTED = {
    "length_mm": "Give every length in whole millimetres.",
    "share_percent": "Give every length its share, in whole per cent.",
    "filaments": "Give the filaments of a fan, a whole number.",
    "diameter_hundredths": "Choose a diameter of the trade list.",
    "opening_deg": "Give the opening as two angles in whole degrees, the narrowest and the widest.",
    "along_percent": "Give the place of a direction in whole per cent from the inner corner.",
    "degrees": "Give a direction in whole degrees.",
    "natural_length_mm": "Give the natural length in whole millimetres.",
}
_CELL_FIELDS = ("lengths", "fan_shape", "filaments", "diameter_hundredths", "curl", "opening_deg")


def read_map(data: object, trade: TradeList = TRADE) -> LashMap:
    """The map in ``data``, as parsed from JSON. Raises MapError for the first thing wrong."""
    fields = _fields(data, _MAP_FIELDS, "")
    zones, layers, eyes = _frame(fields)
    cells: dict[CellKey, Cell] = {}
    for key, read in _cells(fields, keys_of(zones, layers, eyes), trade):
        if isinstance(read, MapError):
            raise read
        cells[key] = read
    return LashMap(
        zones=zones,
        layers=layers,
        eyes="mirror" if eyes == "mirror" else "separate",
        cells=cells,
        directions=tuple(_directions(fields)),
        placement=_texts(fields, "placement"),
        textured=_flag(fields, "textured"),
        eye_shape=_text(fields.get("eye_shape", ""), "/eye_shape"),
        face_note=_text(fields.get("face_note", ""), "/face_note"),
        natural_length_mm=_optional_integer(fields, "natural_length_mm"),
    )


def map_problems(data: object, trade: TradeList = TRADE) -> tuple[MapError, ...]:
    """Everything wrong with the cells at once, so that a person corrects it in one go; else what else is."""
    try:
        fields = _fields(data, _MAP_FIELDS, "")
        read = tuple(_cells(fields, keys_of(*_frame(fields)), trade))
        if problems := tuple(found for _, found in read if isinstance(found, MapError)):
            return problems
        read_map(data, trade)
    except MapError as error:
        return (error,)
    return ()


def write_map(lash_map: LashMap) -> dict[str, Any]:
    """The map as JSON values; `read_map` gives it back."""
    cells: dict[str, dict[str, dict[str, Any]]] = {}
    for side, zone, layer in cell_keys(lash_map):
        cells.setdefault(side, {}).setdefault(zone, {})[layer] = _written(lash_map.cells[side, zone, layer])
    return {
        "zones": list(lash_map.zones),
        "layers": list(lash_map.layers),
        "eyes": lash_map.eyes,
        "cells": cells,
        "directions": [
            {"along_percent": each.along_percent, "degrees": each.degrees} for each in lash_map.directions
        ],
        "placement": list(lash_map.placement),
        "textured": lash_map.textured,
        "eye_shape": lash_map.eye_shape,
        "face_note": lash_map.face_note,
        "natural_length_mm": lash_map.natural_length_mm,
    }


def _written(cell: Cell) -> dict[str, Any]:
    fan = cell.fan
    is_open = fan.shape == "open"
    return {
        "lengths": [{"length_mm": part.length_mm, "share_percent": part.share} for part in cell.lengths],
        "fan_shape": fan.shape,
        "filaments": fan.filaments,
        "diameter_hundredths": fan.diameter_hundredths,
        "curl": fan.curl,
        "opening_deg": [fan.opening_min_deg, fan.opening_max_deg] if is_open else None,
    }


def _frame(fields: Mapping[str, object]) -> tuple[tuple[str, ...], tuple[str, ...], str]:
    zones, layers = _texts(fields, "zones"), _texts(fields, "layers")
    eyes = _text(fields.get("eyes", "mirror"), "/eyes")
    check_frame(zones, layers, eyes)
    return zones, layers, eyes


def _cells(
    fields: Mapping[str, object], keys: Iterator[CellKey], trade: TradeList
) -> Iterator[tuple[CellKey, Cell | MapError]]:
    """Every wanted cell or what is wrong with it; raises for a place the map does not use."""
    wanted = tuple(keys)
    given = _given_cells(fields)
    for key in sorted(given.keys() - set(wanted)):
        raise MapError("unknown_cell", "This map does not use that place. Remove it.").within(key)
    for key in wanted:
        try:
            if key not in given:
                raise MapError("missing_cell", "Nothing is planned here. Give lengths and a fan.")
            yield key, _cell(given[key], trade)
        except MapError as error:
            yield key, error.within(key)


def _given_cells(fields: Mapping[str, object]) -> dict[CellKey, object]:
    sides = sides_of(str(fields.get("eyes", "mirror")))
    found: dict[CellKey, object] = {}
    for side, zones in _fields(fields.get("cells", {}), sides, "/cells").items():
        for zone, layers in _object(zones, f"/cells/{side}").items():
            for layer, cell in _object(layers, f"/cells/{side}/{zone}").items():
                found[side, zone, layer] = cell
    return found


def _cell(data: object, trade: TradeList) -> Cell:
    fields = _fields(data, _CELL_FIELDS, "")
    low, high = _opening(fields.get("opening_deg"))
    shape = _text(fields.get("fan_shape", ""), "/fan_shape")
    fan = Fan(
        shape=shape,  # type: ignore[arg-type]  # Fan itself refuses what is no shape
        filaments=_integer(fields, "filaments"),
        diameter_hundredths=_integer(fields, "diameter_hundredths"),
        curl=_text(fields.get("curl", ""), "/curl"),
        opening_min_deg=low,
        opening_max_deg=high,
    )
    _check_trade(fan, trade)
    return Cell(tuple(_lengths(fields)), fan)


def _check_trade(fan: Fan, trade: TradeList) -> None:
    if fan.diameter_hundredths not in trade.diameters_hundredths:
        message = (
            f"{millimetres(fan.diameter_hundredths)} mm is not a diameter of the trade list. "
            f"Choose one of {trade.diameter_words}."
        )
        raise MapError("unknown_diameter", message, "/diameter_hundredths")
    if fan.curl not in trade.curls:
        message = (
            f"The curl {fan.curl} is not in the trade list. Choose one of the curls {', '.join(trade.curls)}."
        )
        raise MapError("unknown_curl", message, "/curl")


def _lengths(fields: Mapping[str, object]) -> Iterator[LengthShare]:
    for nth, part in enumerate(_list(fields.get("lengths", []), "/lengths")):
        where = f"/lengths/{nth}"
        pair = _fields(part, ("length_mm", "share_percent"), where)
        yield LengthShare(_integer(pair, "length_mm", where), _integer(pair, "share_percent", where))


def _opening(data: object) -> tuple[int | None, int | None]:
    if data is None:
        return None, None
    pair = _list(data, "/opening_deg")
    if len(pair) != 2:
        message = "Give the opening as two angles, the narrowest and the widest."
        raise MapError("opening_missing", message, "/opening_deg")
    low, high = (_whole(value, f"/opening_deg/{nth}") for nth, value in enumerate(pair))
    return low, high


def _directions(fields: Mapping[str, object]) -> Iterator[Direction]:
    for nth, each in enumerate(_list(fields.get("directions", []), "/directions")):
        where = f"/directions/{nth}"
        pair = _fields(each, ("along_percent", "degrees"), where)
        yield Direction(_integer(pair, "along_percent", where), _integer(pair, "degrees", where))


def _fields(data: object, known: tuple[str, ...], pointer: str) -> Mapping[str, object]:
    fields = _object(data, pointer)
    for name in fields:
        if name not in known:
            message = f"There is no field {name!r} here. Known are {', '.join(known)}."
            escaped = name.replace("~", "~0").replace("/", "~1")
            raise MapError("unknown_field", message, f"{pointer}/{escaped}")
    return fields


def _object(data: object, pointer: str) -> Mapping[str, object]:
    if not isinstance(data, Mapping) or not all(isinstance(name, str) for name in data):
        raise MapError("not_an_object", "Here a set of named fields is expected.", pointer)
    return data


def _list(data: object, pointer: str) -> list[object]:
    if not isinstance(data, list | tuple):
        raise MapError("not_a_list", "Here a list is expected.", pointer)
    return list(data)


def _text(data: object, pointer: str) -> str:
    if not isinstance(data, str):
        raise MapError("not_text", "Here a text is expected.", pointer)
    return data


def _texts(fields: Mapping[str, object], name: str) -> tuple[str, ...]:
    listed = _list(fields.get(name, []), f"/{name}")
    return tuple(_text(each, f"/{name}/{nth}") for nth, each in enumerate(listed))


def _flag(fields: Mapping[str, object], name: str) -> bool:
    data = fields.get(name, False)
    if not isinstance(data, bool):
        raise MapError("not_yes_or_no", "Answer with true or false.", f"/{name}")
    return data


def _integer(fields: Mapping[str, object], name: str, pointer: str = "") -> int:
    return _whole(fields.get(name), f"{pointer}/{name}")


def _optional_integer(fields: Mapping[str, object], name: str) -> int | None:
    return None if fields.get(name) is None else _integer(fields, name)


def _whole(data: object, pointer: str) -> int:
    if isinstance(data, bool) or not isinstance(data, int):
        field = next((part for part in reversed(pointer.split("/")) if not part.isdecimal()), "")
        message = _WANTED.get(field, "Here a whole number is expected.")
        raise MapError("not_a_whole_number", message, pointer)
    return data
