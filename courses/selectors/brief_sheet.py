from dataclasses import dataclass

from courses.mapping.load import load_percent, max_filaments
from courses.mapping.pace import pace_words
from courses.models import BriefVersion
from courses.selectors.briefs import lengths
from courses.words import LAYER_WORDS, ZONE_WORDS

REFERENCE_HUNDREDTHS = 15  # the single extension that fans are commonly compared with


@dataclass(frozen=True, slots=True)
class LengthRow:
    layer: str
    lengths_mm: tuple[int | None, ...]


@dataclass(frozen=True, slots=True)
class StageRow:
    from_set: int
    minutes: int
    pace: str


@dataclass(frozen=True, slots=True)
class LoadNote:
    """A fan beside one reference extension of the same length; ``ceiling`` in filaments."""

    reference_mm: str
    ceiling: int
    ceiling_words: str
    percent: int
    is_over: bool


@dataclass(frozen=True, slots=True)
class BriefSheet:
    """One version of a brief as a page shows it."""

    version: BriefVersion
    zones: tuple[str, ...]
    layers: tuple[str, ...]
    rows: tuple[LengthRow, ...]
    stages: tuple[StageRow, ...]
    fans: int
    load: LoadNote


def brief_sheet(version: BriefVersion) -> BriefSheet:
    """Two queries unless cells and targets are prefetched."""
    millimetres = lengths(version)
    fans = 2 * version.fans_per_eye
    return BriefSheet(
        version=version,
        zones=tuple(ZONE_WORDS[zone] for zone in version.zones),
        layers=tuple(LAYER_WORDS[layer] for layer in version.layers),
        rows=tuple(
            LengthRow(LAYER_WORDS[layer], tuple(millimetres.get((zone, layer)) for zone in version.zones))
            for layer in version.layers
        ),
        stages=tuple(
            StageRow(target.from_set, target.minutes, pace_words(target.minutes, fans))
            for target in version.targets.all()
        ),
        fans=fans,
        load=_load(version),
    )


def _load(version: BriefVersion) -> LoadNote:
    diameter, reference = version.diameter_hundredths, REFERENCE_HUNDREDTHS
    ceiling = max_filaments(diameter, reference)
    return LoadNote(
        reference_mm=f"{reference / 100:.2f}",
        ceiling=ceiling,
        ceiling_words=f"{reference}² ÷ {diameter}² = {reference**2} ÷ {diameter**2}, whole part {ceiling}",
        percent=load_percent(version.filaments, diameter, reference),
        is_over=version.filaments > ceiling,
    )
