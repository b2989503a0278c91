"""Heads and briefs, made through the services."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

from academy.models import Academy, Membership
from courses.models import BriefVersion, Head
from courses.services.briefs import BriefContent, add_brief
from courses.words import ZONES

MADE_AT = datetime(2026, 1, 12, 9, 0, tzinfo=UTC)


def brief_content(**changes: Any) -> BriefContent:
    """An open-fan brief on two layers, 160 fans in all: 80 lashes an eye, every one covered."""
    lengths = dict(zip(ZONES, (9, 10, 11, 10), strict=True))
    content = BriefContent(
        name="Soft volume",
        style="volume",
        fan_shape="open",
        opening_min_deg=30,
        opening_max_deg=50,
        curl="C",
        diameter_hundredths=5,
        filaments=5,
        coverage_percent=100,
        lashes_per_eye=80,
        zones=ZONES,
        layers=("top", "bottom"),
        lengths={
            (zone, layer): length - (layer == "bottom")
            for zone, length in lengths.items()
            for layer in ("top", "bottom")
        },
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
