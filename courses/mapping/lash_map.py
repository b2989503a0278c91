"""The lash map: which fans, in which lengths, stand where along the lid.

Zones run from the inner to the outer corner, layers from the top down; a code is its word with ``_``.
Lengths in mm, shares in per cent, diameters in hundredths of a mm, angles in degrees.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

EYES = ("left", "right")
BOTH = "both"
FAN_SHAPES = ("open", "closed", "spike")
LAYERS = ("top", "middle", "bottom")
# The usual names of up to five zones; finer maps number the zones between the corners.
USUAL_ZONES = {
    3: ("inner", "middle", "outer"),
    4: ("inner", "inner_mid", "outer_mid", "outer"),
    5: ("inner", "inner_mid", "middle", "outer_mid", "outer"),
}
SHORTEST_MM, LONGEST_MM = 5, 18
FEWEST_ZONES, MOST_ZONES = 3, 9
MOST_FILAMENTS = 30
MOST_LENGTHS = 6
WIDEST_DEG = 120
STEEPEST_DEG = 60
MOST_NOTES = 12
_CODE = re.compile(r"[a-z][a-z0-9_]{0,19}")

FanShape = Literal["open", "closed", "spike"]
CellKey = tuple[str, str, str]  # eye or "both", zone, layer


class MapError(ValueError):
    """The map cannot be; ``message`` says what to change, ``pointer`` (RFC 6901) where in its JSON."""

    def __init__(self, code: str, message: str, pointer: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.pointer = pointer

    def within(self, key: CellKey) -> "MapError":
        """The same fault of a cell, told with the cell's place in the whole map."""
        place = place_words(*key)
        return MapError(
            self.code,
            f"{place[0].upper()}{place[1:]}: {self.message}",
            f"/cells/{'/'.join(key)}{self.pointer}",
        )


@dataclass(frozen=True, slots=True)
class LengthShare:
    """``share`` per cent of the fans of a cell are ``length_mm`` long."""

    length_mm: int
    share: int


@dataclass(frozen=True, slots=True)
class Fan:
    """How every fan of a cell is built; only an open fan has a target opening."""

    shape: FanShape
    filaments: int
    diameter_hundredths: int
    curl: str
    opening_min_deg: int | None = None
    opening_max_deg: int | None = None

    def __post_init__(self) -> None:
        if self.shape not in FAN_SHAPES:
            raise MapError("unknown_fan_shape", "Choose the fan: open, closed or spike.", "/fan_shape")
        if not 1 <= self.filaments <= MOST_FILAMENTS:
            raise MapError(
                "filaments_out_of_range",
                f"{self.filaments} filaments a fan is out of range. Give 1 to {MOST_FILAMENTS}.",
                "/filaments",
            )
        if self.diameter_hundredths < 1:
            raise MapError("diameter_out_of_range", "A diameter is at least 0.01 mm.", "/diameter_hundredths")
        if not self.curl.strip():
            raise MapError("no_curl", "Choose a curl.", "/curl")
        _check_opening(self)


@dataclass(frozen=True, slots=True)
class Cell:
    """One zone of one layer; ``lengths`` are kept from the shortest up and their shares make 100."""

    lengths: tuple[LengthShare, ...]
    fan: Fan

    def __post_init__(self) -> None:
        _check_lengths(self.lengths)
        object.__setattr__(self, "lengths", tuple(sorted(self.lengths, key=lambda part: part.length_mm)))

    @property
    def shortest_mm(self) -> int:
        return self.lengths[0].length_mm

    @property
    def longest_mm(self) -> int:
        return self.lengths[-1].length_mm


@dataclass(frozen=True, slots=True)
class Direction:
    """How far lashes are fanned at a point of the lid, 0 % at the inner and 100 % at the outer corner.

    Degrees from straight down: below 0 towards the nose, above 0 outwards.
    """

    along_percent: int
    degrees: int


@dataclass(frozen=True, slots=True)
class LashMap:
    """A whole plan of both eyes. Raises MapError for a plan nobody could work from.

    One layer is allowed: many heads carry a single row, and a fill may work one row only.
    A ``mirror`` map has its cells under "both"; a ``separate`` one under "left" and "right".
    """

    zones: tuple[str, ...]
    layers: tuple[str, ...]
    eyes: Literal["mirror", "separate"]
    cells: Mapping[CellKey, Cell]
    directions: tuple[Direction, ...] = ()
    placement: tuple[str, ...] = ()
    textured: bool = False
    eye_shape: str = ""
    face_note: str = ""
    natural_length_mm: int | None = None

    def __post_init__(self) -> None:
        check_frame(self.zones, self.layers, self.eyes)
        _check_cells(self)
        _check_directions(self.directions)
        _check_notes(self)

    @property
    def sides(self) -> tuple[str, ...]:
        """The eyes the cells are kept under."""
        return sides_of(self.eyes)


def cell(lash_map: LashMap, eye: str, zone: str, layer: str) -> Cell:
    """What stands there. Raises MapError ``unknown_place``."""
    if eye not in (*EYES, BOTH):
        raise MapError("unknown_place", f"There is no eye {eye}. Give left or right.")
    side = BOTH if lash_map.eyes == "mirror" else eye
    found = lash_map.cells.get((side, zone, layer))
    if found is None:
        raise MapError("unknown_place", f"This map has no {place_words(eye, zone, layer)}.")
    return found


def cell_keys(lash_map: LashMap) -> Iterator[CellKey]:
    """Every place a cell is kept: by eye, then layer from the top, then zone from the nose."""
    return keys_of(lash_map.zones, lash_map.layers, lash_map.eyes)


def keys_of(zones: tuple[str, ...], layers: tuple[str, ...], eyes: str) -> Iterator[CellKey]:
    return ((side, zone, layer) for side in sides_of(eyes) for layer in layers for zone in zones)


def sides_of(eyes: str) -> tuple[str, ...]:
    return (BOTH,) if eyes == "mirror" else EYES


def mirrored(lash_map: LashMap) -> LashMap:
    """The same plan with left and right exchanged; mirroring twice gives the plan back."""
    if lash_map.eyes == "mirror":
        return lash_map
    other = dict(zip(EYES, reversed(EYES), strict=True))
    cells = {(other[eye], zone, layer): found for (eye, zone, layer), found in lash_map.cells.items()}
    return replace(lash_map, cells=cells)


def separated(lash_map: LashMap) -> LashMap:
    """The same plan with cells of its own for each eye, ready to be changed apart."""
    cells = {
        (eye, zone, layer): cell(lash_map, eye, zone, layer)
        for eye, zone, layer in keys_of(lash_map.zones, lash_map.layers, "separate")
    }
    return replace(lash_map, eyes="separate", cells=cells)


def uniform_map(
    zones: tuple[str, ...], layers: tuple[str, ...], lengths: Mapping[tuple[str, str], int], fan: Fan
) -> LashMap:
    """A mirrored map of one length a cell, from lengths in mm by (zone, layer), with one fan throughout."""
    missing = [(zone, layer) for zone in zones for layer in layers if (zone, layer) not in lengths]
    if missing:
        raise MapError("missing_cell", f"Give the length for {place_words(BOTH, *missing[0])}.", "/cells")
    cells = {
        (BOTH, zone, layer): Cell((LengthShare(lengths[zone, layer], 100),), fan)
        for zone in zones
        for layer in layers
    }
    return LashMap(zones, layers, "mirror", cells)


def usual_zones(count: int) -> tuple[str, ...]:
    """Codes for a lid cut into 3 to 9 zones."""
    if not FEWEST_ZONES <= count <= MOST_ZONES:
        raise _zone_count(count)
    between = (f"zone_{number}" for number in range(2, count))
    return USUAL_ZONES.get(count) or ("inner", *between, "outer")


def zone_words(zone: str) -> str:
    stem, _, number = zone.rpartition("_")
    return f"{stem} {number}" if number.isdigit() else zone.replace("_", "-")


def layer_words(layer: str) -> str:
    return f"{layer} layer"


def place_words(eye: str, zone: str, layer: str) -> str:
    side = "" if eye == BOTH else f"{eye} eye, "
    return f"{side}{zone_words(zone)}, {layer_words(layer)}"


def check_frame(zones: tuple[str, ...], layers: tuple[str, ...], eyes: str) -> None:
    """What must hold before cells can be named. Raises MapError."""
    if not FEWEST_ZONES <= len(zones) <= MOST_ZONES:
        raise _zone_count(len(zones))
    for nth, zone in enumerate(zones):
        if not _CODE.fullmatch(zone):
            message = f"The zone {zone!r} needs a code of small letters, digits and _, up to 20 of them."
            raise MapError("bad_zone", message, f"/zones/{nth}")
        if zone in zones[:nth]:
            message = f"The zone {zone_words(zone)} is there twice. Name each zone once."
            raise MapError("duplicate_zone", message, f"/zones/{nth}")
    if not layers or layers != tuple(layer for layer in LAYERS if layer in layers):
        message = f"Name one to three layers once each, from the top down: {', '.join(LAYERS)}."
        raise MapError("bad_layers", message, "/layers")
    if eyes not in ("mirror", "separate"):
        message = "Say whether the eyes mirror each other or are separate: mirror or separate."
        raise MapError("bad_eyes", message, "/eyes")


def _zone_count(count: int) -> MapError:
    told = "no zones" if not count else "1 zone" if count == 1 else f"{count} zones"
    return MapError(
        "zone_count",
        f"The map has {told}. Give {FEWEST_ZONES} to {MOST_ZONES}, from the inner to the outer corner.",
        "/zones",
    )


def _check_opening(fan: Fan) -> None:
    low, high = fan.opening_min_deg, fan.opening_max_deg
    if fan.shape != "open":
        if low is not None or high is not None:
            message = "Only an open fan has a target opening. Remove it, or choose the open fan."
            raise MapError("opening_not_wanted", message, "/opening_deg")
    elif low is None or high is None:
        message = "An open fan needs a target opening: give the narrowest and the widest angle."
        raise MapError("opening_missing", message, "/opening_deg")
    elif not 1 <= low <= high <= WIDEST_DEG:
        message = (
            f"The opening is from {low}° to {high}°. Give the smaller first, within 1° to {WIDEST_DEG}°."
        )
        raise MapError("opening_out_of_range", message, "/opening_deg")


def _check_lengths(lengths: tuple[LengthShare, ...]) -> None:
    if not 1 <= len(lengths) <= MOST_LENGTHS:
        raise MapError("length_count", f"Give 1 to {MOST_LENGTHS} lengths.", "/lengths")
    for nth, part in enumerate(lengths):
        where = f"/lengths/{nth}"
        if not SHORTEST_MM <= part.length_mm <= LONGEST_MM:
            message = f"{part.length_mm} mm is out of range. Give {SHORTEST_MM} to {LONGEST_MM} mm."
            raise MapError("length_out_of_range", message, f"{where}/length_mm")
        if part.length_mm in {other.length_mm for other in lengths[:nth]}:
            message = f"{part.length_mm} mm is there twice. Put its shares together."
            raise MapError("length_twice", message, f"{where}/length_mm")
        if not 1 <= part.share <= 100:
            message = f"A share of {part.share} % is out of range. Give 1 to 100 %, or remove the length."
            raise MapError("share_out_of_range", message, f"{where}/share_percent")
    if (total := sum(part.share for part in lengths)) != 100:
        message = f"The shares add up to {total} %, not 100 %. Change them so that they make 100 %."
        raise MapError("shares_do_not_sum", message, "/lengths")


def _check_cells(lash_map: LashMap) -> None:
    keys = tuple(cell_keys(lash_map))
    for key in keys:
        if key not in lash_map.cells:
            raise MapError("missing_cell", "Nothing is planned here. Give lengths and a fan.").within(key)
    for key in lash_map.cells:
        if key not in keys:
            raise MapError("unknown_cell", "This map does not use that place. Remove it.").within(key)


def _check_directions(directions: tuple[Direction, ...]) -> None:
    for nth, each in enumerate(directions):
        if not 0 <= each.along_percent <= 100:
            message = f"A direction at {each.along_percent} % is off the lid. Give 0 to 100 %."
            raise MapError("direction_off_the_lid", message, f"/directions/{nth}/along_percent")
        if abs(each.degrees) > STEEPEST_DEG:
            message = (
                f"A direction of {each.degrees}° is out of range. Give {-STEEPEST_DEG} to {STEEPEST_DEG}°."
            )
            raise MapError("direction_out_of_range", message, f"/directions/{nth}/degrees")
    for nth, (before, after) in enumerate(pairwise(directions), 1):
        if after.along_percent <= before.along_percent:
            message = "Put the directions in order from the inner corner outwards, one at a point."
            raise MapError("directions_out_of_order", message, f"/directions/{nth}/along_percent")


def _check_notes(lash_map: LashMap) -> None:
    if len(lash_map.placement) > MOST_NOTES:
        raise MapError("too_many_notes", f"Give up to {MOST_NOTES} placement notes.", "/placement")
    for nth, note in enumerate(lash_map.placement):
        if not note.strip() or len(note) > 200:
            message = "A placement note has 1 to 200 characters. Shorten it, or remove it."
            raise MapError("bad_note", message, f"/placement/{nth}")
    for field, text, most in (("eye_shape", lash_map.eye_shape, 60), ("face_note", lash_map.face_note, 500)):
        if len(text) > most:
            raise MapError("text_too_long", f"Write up to {most} characters, not {len(text)}.", f"/{field}")
    natural = lash_map.natural_length_mm
    if natural is not None and not 3 <= natural <= LONGEST_MM:
        message = f"A natural length of {natural} mm is out of range. Give 3 to {LONGEST_MM} mm."
        raise MapError("natural_length_out_of_range", message, "/natural_length_mm")
