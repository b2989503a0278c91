"""Rules of the trade as checks with a reason: common practice, no source, every one of them.

A check never forbids. A programme sets the thresholds, and an educator may silence a finding with a note.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Literal

from courses.mapping.lash_map import (
    BOTH,
    CellKey,
    LashMap,
    cell_keys,
    layer_words,
    place_words,
    zone_words,
)
from courses.mapping.load import rule_load
from courses.mapping.trade import TradeList, millimetres

Severity = Literal["check", "hint"]


@dataclass(frozen=True, slots=True)
class CheckSettings:
    """A programme's thresholds: lengths in mm, diameters in hundredths of a mm, shares in per cent.

    ``programme_limits``: most filaments a fan by diameter, below the arithmetic ceiling.
    """

    zone_step_mm: int = 1
    layer_step_mm: int = 1
    filler_gap_mm: int = 3
    peaks_below_percent: int = 50
    denser_look_mm: int = 2
    fine_hundredths: int = 5
    past_natural_hint_mm: int = 2
    past_natural_most_mm: int = 3
    reference_hundredths: int = 15
    programme_limits: Mapping[int, int] = field(default_factory=lambda: {3: 16, 5: 7, 7: 4})
    trade: TradeList = field(default_factory=TradeList)


DEFAULTS = CheckSettings()


@dataclass(frozen=True, slots=True)
class Finding:
    """``places`` are the cells it speaks of. With a ``silenced_note`` it is kept, but no longer shown."""

    code: str
    severity: Severity
    places: tuple[CellKey, ...]
    reason: str
    silenced_note: str = ""

    @property
    def key(self) -> str:
        """Stays the same while the map's zones and layers do, so that a note keeps silencing it."""
        return " ".join([self.code, *("/".join(place) for place in self.places)])

    @property
    def where(self) -> str:
        if len({place[0] for place in self.places}) == 1 and len(self.places) > 1:
            return _places_of_one_eye(self.places)
        return "; ".join(place_words(*place) for place in self.places) or "whole map"


Check = Callable[[LashMap, CheckSettings], Iterator[Finding]]


def check_map(
    lash_map: LashMap, settings: CheckSettings = DEFAULTS, *, for_beginners: bool = False
) -> tuple[Finding, ...]:
    """Every finding on the map, in the order of the rules."""
    checks = (*CHECKS, fine_closed_fans) if for_beginners else CHECKS
    return tuple(finding for check in checks for finding in check(lash_map, settings))


def silence(findings: Iterable[Finding], notes: Mapping[str, str]) -> tuple[Finding, ...]:
    """The findings with the notes that silence them, by `Finding.key`. A blank note silences nothing."""
    return tuple(replace(each, silenced_note=notes.get(each.key, "").strip()) for each in findings)


def corners_shortest(lash_map: LashMap, settings: CheckSettings) -> Iterator[Finding]:
    """By the longest length of each zone, as that makes the line the eye sees."""
    for side, layer in _rows(lash_map):
        longest = [lash_map.cells[side, zone, layer].longest_mm for zone in lash_map.zones]
        for nth in (0, -1):
            if longest[nth] > (shortest := min(longest[1:-1])):
                reason = (
                    f"{longest[nth]} mm in the {zone_words(lash_map.zones[nth])} zone, longer than "
                    f"{shortest} mm further in. Lashes of the corners are finer: they carry the shortest."
                )
                yield Finding("corner_long", "check", ((side, lash_map.zones[nth], layer),), reason)


def zone_steps(lash_map: LashMap, settings: CheckSettings) -> Iterator[Finding]:
    """Neighbouring zones step little, unless the style is textured."""
    if lash_map.textured:
        return
    for side, layer in _rows(lash_map):
        for zones in pairwise(lash_map.zones):
            a, b = (lash_map.cells[side, zone, layer].longest_mm for zone in zones)
            if abs(a - b) > settings.zone_step_mm:
                reason = (
                    f"From {a} to {b} mm in one step. More than {settings.zone_step_mm} mm shows as a step "
                    "unless the style is textured."
                )
                places = tuple((side, zone, layer) for zone in zones)
                yield Finding("zone_step", "check", places, reason)


def textured_contrast(lash_map: LashMap, settings: CheckSettings) -> Iterator[Finding]:
    """Peaks are the lengths near the longest of a cell; the fillers are all others."""
    if not lash_map.textured:
        return
    for key in cell_keys(lash_map):
        planned = lash_map.cells[key]
        below_mm = planned.longest_mm - settings.filler_gap_mm
        peaks = sum(part.share for part in planned.lengths if part.length_mm > below_mm)
        if peaks == 100:
            reason = (
                f"No filler of {below_mm} mm or shorter. In a textured style fillers are at least "
                f"{settings.filler_gap_mm} mm shorter than the longest peaks ({planned.longest_mm} mm)."
            )
            yield Finding("no_fillers", "check", (key,), reason)
        elif peaks >= settings.peaks_below_percent:
            reason = (
                f"{peaks} % of the fans are peaks, longer than {below_mm} mm. "
                f"Peaks stay under {settings.peaks_below_percent} % of a zone."
            )
            yield Finding("many_peaks", "check", (key,), reason)


def coverage_by_count(lash_map: LashMap, settings: CheckSettings) -> Iterator[Finding]:
    for side, layer in _rows(lash_map):
        longest = {zone: lash_map.cells[side, zone, layer].longest_mm for zone in lash_map.zones}
        short = [
            zone
            for zone in lash_map.zones
            if max(longest.values()) - longest[zone] >= settings.denser_look_mm
        ]
        if short:
            reason = "Shorter lengths look denser. Plan the coverage here by count, not by look."
            yield Finding("looks_denser", "hint", tuple((side, zone, layer) for zone in short), reason)


def past_natural(lash_map: LashMap, settings: CheckSettings) -> Iterator[Finding]:
    """Silent while the natural length is not known."""
    if lash_map.natural_length_mm is None:
        return
    for key in cell_keys(lash_map):
        past_mm = lash_map.cells[key].longest_mm - lash_map.natural_length_mm
        if past_mm > settings.past_natural_hint_mm:
            is_far = past_mm > settings.past_natural_most_mm
            reason = (
                f"{past_mm} mm past the natural lash of {lash_map.natural_length_mm} mm. Usual are up to "
                f"{settings.past_natural_hint_mm} or {settings.past_natural_most_mm} mm."
            )
            yield Finding("past_natural", "check" if is_far else "hint", (key,), reason)


def trade_list(lash_map: LashMap, settings: CheckSettings) -> Iterator[Finding]:
    for key in cell_keys(lash_map):
        fan = lash_map.cells[key].fan
        if fan.diameter_hundredths not in settings.trade.diameters_hundredths:
            reason = (
                f"{millimetres(fan.diameter_hundredths)} mm is not in the trade list: "
                f"{settings.trade.diameter_words}."
            )
            yield Finding("diameter_not_listed", "check", (key,), reason)
        if fan.curl not in settings.trade.curls:
            reason = f"Curl {fan.curl} is not in the trade list: {', '.join(settings.trade.curls)}."
            yield Finding("curl_not_listed", "check", (key,), reason)


def layers_blend(lash_map: LashMap, settings: CheckSettings) -> Iterator[Finding]:
    """Neighbouring layers end near one line; in a textured style that is only a hint."""
    for side in lash_map.sides:
        for zone in lash_map.zones:
            for layers in pairwise(lash_map.layers):
                a, b = (lash_map.cells[side, zone, layer].longest_mm for layer in layers)
                if abs(a - b) > settings.layer_step_mm:
                    upper, lower = (layer_words(layer) for layer in layers)
                    reason = (
                        f"The {upper} ends at {a} mm, the {lower} at {b} mm. Layers blend into one top line "
                        f"when they differ by {settings.layer_step_mm} mm or less."
                    )
                    places = tuple((side, zone, layer) for layer in layers)
                    yield Finding("layers_apart", "hint" if lash_map.textured else "check", places, reason)


def fan_load(lash_map: LashMap, settings: CheckSettings) -> Iterator[Finding]:
    for key in cell_keys(lash_map):
        fan = lash_map.cells[key].fan
        ruling = rule_load(
            fan.filaments,
            fan.diameter_hundredths,
            reference_hundredths=settings.reference_hundredths,
            programme_limit=settings.programme_limits.get(fan.diameter_hundredths),
        )
        if ruling.over_by:
            limit = "the programme's limit" if ruling.is_programme_ruling else "the arithmetic ceiling"
            reason = (
                f"{fan.filaments} filaments of {millimetres(fan.diameter_hundredths)} mm are over {limit} of "
                f"{ruling.most}: a load of {ruling.percent} % of one "
                f"{millimetres(settings.reference_hundredths)} mm extension of the same length."
            )
            yield Finding("fan_load", "check", (key,), reason)


def fine_closed_fans(lash_map: LashMap, settings: CheckSettings) -> Iterator[Finding]:
    """For briefs of beginners; a single filament has nothing to close."""
    for key in cell_keys(lash_map):
        fan = lash_map.cells[key].fan
        is_fine = fan.diameter_hundredths <= settings.fine_hundredths
        if fan.shape != "open" and fan.filaments > 1 and is_fine:
            made = "closed fan" if fan.shape == "closed" else "spike"
            reason = (
                f"A {made} of {millimetres(fan.diameter_hundredths)} mm filaments is hard to close for a "
                "beginner. A thicker filament, such as 0.07 mm, closes more easily."
            )
            yield Finding("fine_closed_fan", "hint", (key,), reason)


CHECKS: tuple[Check, ...] = (
    corners_shortest,
    zone_steps,
    textured_contrast,
    layers_blend,
    fan_load,
    past_natural,
    trade_list,
    coverage_by_count,
)


def _rows(lash_map: LashMap) -> Iterator[tuple[str, str]]:
    return ((side, layer) for side in lash_map.sides for layer in lash_map.layers)


def _places_of_one_eye(places: tuple[CellKey, ...]) -> str:
    """Several cells of one eye, its layer or zone said once."""
    eye = "" if places[0][0] == BOTH else f"{places[0][0]} eye, "
    zones = list(dict.fromkeys(zone_words(zone) for _, zone, _ in places))
    layers = list(dict.fromkeys(layer_words(layer) for _, _, layer in places))
    return f"{eye}{' and '.join(zones)}, {' and '.join(layers)}"
