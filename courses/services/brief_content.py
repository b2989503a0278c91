"""What a set brief says, and every sentence about what is wrong with it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from courses.models import FanShape
from courses.words import CURLS, DIAMETERS, LAYER_WORDS, LAYERS_FOR, ZONE_WORDS, ZONES

SHORTEST_MM, LONGEST_MM = 5, 18
SHORTEST_MIN, LONGEST_MIN = 5, 600
WIDEST_DEG = 120


@dataclass(frozen=True, slots=True)
class BriefContent:
    """One wording of a brief; ``lengths`` in mm by (zone, layer), ``targets`` as (from set, minutes)."""

    name: str
    style: str
    fan_shape: str
    opening_min_deg: int | None
    opening_max_deg: int | None
    curl: str
    diameter_hundredths: int
    filaments: int
    coverage_percent: int
    lashes_per_eye: int
    zones: tuple[str, ...]
    layers: tuple[str, ...]
    lengths: Mapping[tuple[str, str], int]
    targets: tuple[tuple[int, int], ...]
    notes: str = ""


@dataclass(frozen=True, slots=True)
class BriefProblem:
    """``field`` is a field of BriefContent."""

    field: str
    message: str


def brief_problems(content: BriefContent) -> tuple[BriefProblem, ...]:
    """Everything wrong at once, so that a person corrects it in one go."""
    checks = (_words, _fan, _opening, _counts, _map, _lengths, _targets)
    return tuple(BriefProblem(field, message) for check in checks for field, message in check(content))


Found = Iterator[tuple[str, str]]


def _words(content: BriefContent) -> Found:
    if not content.name.strip():
        yield "name", "Give the brief a name."
    if not content.style.strip():
        yield "style", "Name the style, such as hybrid or volume."
    if content.curl not in CURLS:
        yield "curl", f"Choose one of the curls {', '.join(CURLS)}."


def _fan(content: BriefContent) -> Found:
    if content.fan_shape not in FanShape.values:
        yield "fan_shape", "Choose the shape of the fan: open, closed or spike."
    if content.diameter_hundredths not in DIAMETERS:
        sold = ", ".join(f"{each / 100:.2f}" for each in DIAMETERS)
        yield "diameter_hundredths", f"Choose one of the diameters {sold} mm."


def _opening(content: BriefContent) -> Found:
    low, high = content.opening_min_deg, content.opening_max_deg
    if content.fan_shape != FanShape.OPEN:
        if content.fan_shape in FanShape.values and (low is not None or high is not None):
            yield (
                "opening_min_deg",
                "Only an open fan has a target opening. Empty both fields, or choose open fan.",
            )
        return
    if low is None or high is None:
        yield (
            "opening_min_deg",
            "An open fan needs a target opening: give the narrowest and the widest angle.",
        )
    elif not 1 <= low <= high <= WIDEST_DEG:
        yield (
            "opening_min_deg",
            f"The opening is from {low}° to {high}°. Give the smaller first, within 1° to {WIDEST_DEG}°.",
        )


def _counts(content: BriefContent) -> Found:
    limits = (
        ("filaments", content.filaments, 1, 30, "filaments a fan"),
        ("coverage_percent", content.coverage_percent, 10, 100, "% of the usable lashes covered"),
        ("lashes_per_eye", content.lashes_per_eye, 20, 200, "usable lashes an eye"),
    )
    for field, value, low, high, noun in limits:
        if not low <= value <= high:
            yield field, f"{value} {noun} is out of range. Give {low} to {high}."


def _map(content: BriefContent) -> Found:
    if content.zones != tuple(zone for zone in ZONES if zone in content.zones) or not content.zones:
        yield "zones", f"Name the zones once each, from the nose outwards: {', '.join(ZONE_WORDS.values())}."
    if content.layers not in LAYERS_FOR.values():
        yield "layers", "Choose one, two or three layers."


def _lengths(content: BriefContent) -> Found:
    if any(_map(content)):
        return
    cells = {(zone, layer) for zone in content.zones for layer in content.layers}
    for zone, layer in sorted(cells):
        length = content.lengths.get((zone, layer))
        if length is None:
            yield "lengths", f"Give the length for {_place(zone, layer)}."
        elif not SHORTEST_MM <= length <= LONGEST_MM:
            yield (
                "lengths",
                f"{length} mm for {_place(zone, layer)} is out of range. "
                f"Give {SHORTEST_MM} to {LONGEST_MM} mm.",
            )
    for zone, layer in sorted(content.lengths.keys() - cells):
        yield (
            "lengths",
            f"There is a length for {_place(zone, layer)}, which this brief does not use. Remove it.",
        )


def _targets(content: BriefContent) -> Found:
    if not content.targets or content.targets[0][0] != 1:
        yield "targets", "Give a target time from the 1st set on."
    for nth, minutes in content.targets:
        if not SHORTEST_MIN <= minutes <= LONGEST_MIN:
            yield (
                "targets",
                f"{minutes} min from set {nth} is out of range. Give {SHORTEST_MIN} to {LONGEST_MIN}.",
            )
    for (before, longer), (after, shorter) in pairwise(content.targets):
        if after <= before:
            yield "targets", f"Set {after} comes after set {before} in the list. Put the stages in order."
        elif shorter >= longer:
            yield (
                "targets",
                f"From set {after} the target is {shorter} min, not below the {longer} min before. "
                "Targets fall from stage to stage: shorten it, or remove the stage.",
            )


def _place(zone: str, layer: str) -> str:
    return f"{ZONE_WORDS.get(zone, zone)}, {LAYER_WORDS.get(layer, layer)}"
