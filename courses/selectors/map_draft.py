"""What an unsaved brief comes to: findings, loads and counts of the map as it is drawn so far."""

from collections.abc import Mapping
from dataclasses import dataclass

from courses.mapping.checks import Finding, check_map, silence
from courses.mapping.counts import fans_from_coverage, length_counts, plan_counts
from courses.mapping.lash_map import EYES, LashMap, layer_words, zone_words
from courses.models import Difficulty, MapGuide
from courses.selectors.brief_load import MASS_NOTE, LoadLine, load_lines


@dataclass(frozen=True, slots=True)
class CountRow:
    """Fans of one layer on one eye by zone, with their lengths: "7 × 8 mm, 3 × 12 mm"."""

    eye: str
    layer: str
    cells: tuple[tuple[int, str], ...]
    total: int


@dataclass(frozen=True, slots=True)
class MapDraft:
    lash_map: LashMap
    zones: tuple[str, ...]
    findings: tuple[Finding, ...]
    loads: tuple[LoadLine, ...]
    counts: tuple[CountRow, ...]
    fans_per_eye: int
    mass_note: str = MASS_NOTE


def map_draft(
    lash_map: LashMap,
    guide: MapGuide,
    *,
    lashes: tuple[int, int],
    difficulty: str = "",
    silenced: Mapping[str, str] | None = None,
) -> MapDraft:
    """``lashes``: usable lashes an eye and per cent of them to be covered. No query."""
    found = check_map(lash_map, guide.checks, for_beginners=difficulty == Difficulty.BEGINNER)
    fans_per_eye = fans_from_coverage(*lashes)
    return MapDraft(
        lash_map=lash_map,
        zones=tuple(zone_words(zone) for zone in lash_map.zones),
        findings=silence(found, silenced or {}),
        loads=load_lines(lash_map, guide),
        counts=_counts(lash_map, fans_per_eye),
        fans_per_eye=fans_per_eye,
    )


def _counts(lash_map: LashMap, fans_per_eye: int) -> tuple[CountRow, ...]:
    plan = plan_counts(lash_map, fans_per_eye)
    lengths = length_counts(lash_map, plan)
    eyes = EYES[:1] if lash_map.eyes == "mirror" else EYES
    return tuple(
        CountRow(
            eye="each eye" if lash_map.eyes == "mirror" else f"{eye} eye",
            layer=layer_words(layer),
            cells=tuple(
                (plan.fans[eye, zone, layer], _length_words(lengths[eye, zone, layer]))
                for zone in lash_map.zones
            ),
            total=plan.of(eye=eye, layer=layer),
        )
        for eye in eyes
        for layer in lash_map.layers
    )


def _length_words(by_length: Mapping[int, int]) -> str:
    return ", ".join(f"{fans} × {length} mm" for length, fans in by_length.items())
