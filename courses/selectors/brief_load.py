"""How heavy the fans of a map are beside one reference extension, in words a person can check."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from courses.mapping.lash_map import CellKey, Fan, LashMap, LengthShare, cell_keys, place_words
from courses.mapping.load import LoadRuling, filament_mass_mg, mixed_load_percent, rule_load
from courses.mapping.trade import millimetres
from courses.models import MapGuide

MASS_NOTE = (
    "Reckoned as even cylinders. Real filaments taper, so this overstates them: a pure cone has a third of "
    "the cylinder's mass. A relative load says nothing about what a natural lash can carry."
)


@dataclass(frozen=True, slots=True)
class MixLoad:
    """One mix of lengths: beside one reference extension of its longest, and one fan of it on average."""

    where: str
    longest_mm: int
    percent: int
    mass_mg: float


@dataclass(frozen=True, slots=True)
class LoadLine:
    """One build of fan beside one reference extension of the same length, and each mix it is planned in."""

    where: str
    fan: Fan
    diameter_mm: str
    reference_mm: str
    ruling: LoadRuling
    ceiling_words: str
    ruling_words: str
    mixes: tuple[MixLoad, ...]

    @property
    def is_over(self) -> bool:
        return self.ruling.over_by > 0

    @property
    def mass_words(self) -> str:
        """ "0.31 to 0.36 mg a fan", over the mixes."""
        low, high = (f"{pick(mix.mass_mg for mix in self.mixes):.2f}" for pick in (min, max))
        return f"{low} mg a fan" if low == high else f"{low} to {high} mg a fan"


Lengths = tuple[LengthShare, ...]


def load_lines(lash_map: LashMap, guide: MapGuide) -> tuple[LoadLine, ...]:
    """One line for each different build, in the order of the map."""
    builds: dict[Fan, dict[Lengths, list[CellKey]]] = {}
    for key in cell_keys(lash_map):
        planned = lash_map.cells[key]
        builds.setdefault(planned.fan, {}).setdefault(planned.lengths, []).append(key)
    return tuple(_line(lash_map, fan, mixes, guide) for fan, mixes in builds.items())


def _line(
    lash_map: LashMap, fan: Fan, mixes: Mapping[Lengths, Sequence[CellKey]], guide: MapGuide
) -> LoadLine:
    diameter, reference = fan.diameter_hundredths, guide.reference_hundredths
    limit = guide.limits.get(diameter)
    ruling = rule_load(fan.filaments, diameter, reference_hundredths=reference, programme_limit=limit)
    return LoadLine(
        where=_where(lash_map, [key for keys in mixes.values() for key in keys]),
        fan=fan,
        diameter_mm=millimetres(diameter),
        reference_mm=millimetres(reference),
        ruling=ruling,
        ceiling_words=f"{reference}² ÷ {diameter}² = {reference**2} ÷ {diameter**2}, "
        f"whole part {ruling.arithmetic_ceiling}",
        ruling_words=" ".join(_ruling_words(ruling)),
        mixes=tuple(_mix(fan, lengths, _where(lash_map, keys), guide) for lengths, keys in mixes.items()),
    )


def _mix(fan: Fan, lengths: Lengths, where: str, guide: MapGuide) -> MixLoad:
    shares = {part.length_mm: part.share for part in lengths}
    mean_mm = sum(length * share for length, share in shares.items()) / 100
    density = float(guide.density_mg_mm3)
    return MixLoad(
        where=where,
        longest_mm=max(shares),
        percent=mixed_load_percent(
            fan.filaments,
            fan.diameter_hundredths,
            shares,
            reference_hundredths=guide.reference_hundredths,
            reference_mm=max(shares),
        ),
        mass_mg=filament_mass_mg(fan.filaments, fan.diameter_hundredths, mean_mm, density),
    )


def _where(lash_map: LashMap, keys: Sequence[CellKey]) -> str:
    if len(keys) == len(lash_map.cells):
        return "everywhere"
    return "; ".join(place_words(*key) for key in keys)


def _ruling_words(ruling: LoadRuling) -> Iterator[str]:
    yield f"Arithmetic ceiling {ruling.arithmetic_ceiling} filaments;"
    if ruling.programme_limit is None:
        yield "the programme sets no limit for this diameter;"
    else:
        yield f"programme limit {ruling.programme_limit};"
    if ruling.programme_limit == ruling.arithmetic_ceiling:
        yield f"both say at most {ruling.most}."
    else:
        ruler = "programme" if ruling.is_programme_ruling else "arithmetic"
        yield f"the {ruler} rules: at most {ruling.most}."
