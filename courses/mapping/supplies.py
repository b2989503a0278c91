"""What a set or a session uses up: filaments, trays and drops of adhesive, rounded up to whole pieces."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from courses.mapping.counts import FanPlan, length_counts
from courses.mapping.lash_map import LashMap, cell
from courses.mapping.trade import millimetres

SUPPLY_COLUMNS = (
    *("students", "item", "diameter_mm", "curl", "length_mm"),
    *("fans", "filaments", "with_waste", "strips", "trays", "drops"),
)


@dataclass(frozen=True, slots=True)
class SupplySettings:
    """Programme data. Trays differ between makers, so their filaments are always given.

    A waste of 15 % and a fresh drop every 20 minutes are common practice, no source.
    """

    filaments_per_tray: int
    strips_per_tray: int = 12
    waste_percent: int = 15
    refresh_minutes: int = 20
    drops_a_refresh: int = 1

    def __post_init__(self) -> None:
        if self.strips_per_tray < 1 or self.filaments_per_tray < self.strips_per_tray:
            raise ValueError("A tray has at least 1 strip, and each strip at least 1 filament.")
        if not 0 <= self.waste_percent <= 300:
            raise ValueError(f"A waste of {self.waste_percent} % is out of range. Give 0 to 300 %.")
        if self.refresh_minutes < 1 or self.drops_a_refresh < 1:
            raise ValueError("Give at least 1 minute between drops, and at least 1 drop at a time.")


@dataclass(frozen=True, slots=True)
class FilamentNeed:
    """Filaments of one kind; strips and trays hold ``with_waste`` filaments and are shared by all."""

    diameter_hundredths: int
    curl: str
    length_mm: int
    fans: int
    filaments: int
    with_waste: int
    strips: int
    trays: int

    @property
    def diameter_mm(self) -> str:
        return millimetres(self.diameter_hundredths)


@dataclass(frozen=True, slots=True)
class Supplies:
    """For ``students`` students, each doing the set once."""

    students: int
    filaments: tuple[FilamentNeed, ...]
    adhesive_drops: int

    def rows(self) -> Iterator[tuple[int | str | None, ...]]:
        """Rows under `SUPPLY_COLUMNS`, ready for a table or CSV."""
        for need in self.filaments:
            kind = (need.diameter_mm, need.curl, need.length_mm)
            counts = (need.fans, need.filaments, need.with_waste, need.strips, need.trays)
            yield (self.students, "filaments", *kind, *counts, None)
        yield (self.students, "adhesive", *(None,) * 8, self.adhesive_drops)


def session_supplies(
    lash_map: LashMap, plan: FanPlan, minutes: int, settings: SupplySettings, *, students: int = 1
) -> Supplies:
    """What ``students`` sets of ``minutes`` use: one student is one set, more are a session sharing trays."""
    if students < 1 or minutes < 1:
        raise ValueError("Supplies are counted for at least 1 student and 1 minute.")
    fans, filaments = _count(lash_map, plan)
    needs = tuple(
        _need(kind, fans[kind] * students, filaments[kind] * students, settings) for kind in sorted(fans)
    )
    drops = -(-minutes // settings.refresh_minutes) * settings.drops_a_refresh
    return Supplies(students, needs, drops * students)


_Kind = tuple[int, str, int]  # diameter in hundredths of a mm, curl, length in mm


def _count(lash_map: LashMap, plan: FanPlan) -> tuple[Counter[_Kind], Counter[_Kind]]:
    fans: Counter[_Kind] = Counter()
    filaments: Counter[_Kind] = Counter()
    for key, lengths in length_counts(lash_map, plan).items():
        fan = cell(lash_map, *key).fan
        for length, count in lengths.items():
            kind = (fan.diameter_hundredths, fan.curl, length)
            fans[kind] += count
            filaments[kind] += count * fan.filaments
    return fans, filaments


def _need(kind: _Kind, fans: int, filaments: int, settings: SupplySettings) -> FilamentNeed:
    with_waste = -(-filaments * (100 + settings.waste_percent) // 100)
    strips = -(-with_waste * settings.strips_per_tray // settings.filaments_per_tray)
    trays = -(-with_waste // settings.filaments_per_tray)
    return FilamentNeed(*kind, fans, filaments, with_waste, strips, trays)
