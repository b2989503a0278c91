"""Heads and briefs, made through the services."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

from academy.models import Academy, Membership
from courses.mapping.lash_map import Fan, LashMap, uniform_map
from courses.models import BriefVersion, Head
from courses.services.briefs import BriefContent, add_brief
from courses.words import ZONES

MADE_AT = datetime(2026, 1, 12, 9, 0, tzinfo=UTC)


LENGTHS = {
    (zone, layer): length - (layer == "bottom")
    for zone, length in zip(ZONES, (9, 10, 11, 10), strict=True)
    for layer in ("top", "bottom")
}
FAN = Fan("open", filaments=5, diameter_hundredths=5, curl="C", opening_min_deg=30, opening_max_deg=50)


MAP_FIELDS = ("zones", "layers", "lengths")
FAN_FIELDS = ("fan_shape", "filaments", "diameter_hundredths", "curl", "opening_min_deg", "opening_max_deg")


def plain_map(
    *,
    zones: tuple[str, ...] = ZONES,
    layers: tuple[str, ...] = ("top", "bottom"),
    lengths: Mapping[tuple[str, str], int] = LENGTHS,
    **fan: Any,
) -> LashMap:
    """One length a cell and one fan throughout, by default open; another shape has no opening."""
    if (shape := fan.pop("fan_shape", "open")) != "open":
        fan = {"opening_min_deg": None, "opening_max_deg": None, **fan}
    return uniform_map(zones, layers, lengths, replace(FAN, shape=shape, **fan))


def brief_content(**changes: Any) -> BriefContent:
    """An open-fan brief on two layers, 160 fans in all: 80 lashes an eye, every one covered.

    What belongs to a plain map may be changed by its own name: ``filaments=4``.
    """
    drawn = {name: changes.pop(name) for name in (*MAP_FIELDS, *FAN_FIELDS) if name in changes}
    content = BriefContent(
        name="Soft volume",
        style="volume",
        lash_map=plain_map(**drawn),
        coverage_percent=100,
        lashes_per_eye=80,
        targets=((1, 300), (4, 240), (9, 180)),
    )
    return replace(content, **changes)


def make_brief(
    academy: Academy, actor: Membership, *, now: datetime = MADE_AT, **changes: Any
) -> BriefVersion:
    return add_brief(academy=academy, content=brief_content(**changes), actor=actor, now=now)


def make_head(
    academy: Academy,
    name: str = "Head 1",
    *,
    layers: int = 2,
    strip_fitted_on: date = date(2026, 1, 5),
    note: str = "",
) -> Head:
    return Head.objects.create(
        academy=academy, name=name, layers=layers, strip_fitted_on=strip_fitted_on, note=note
    )
