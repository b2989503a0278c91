"""Finished work beside its map: fans off their length, and how evenly left and right agree."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Protocol, TypeVar

Millimetres = int | Decimal  # never float: there 8.2 - 7.2 is less than 1


class Placed(Protocol):
    """One inspected fan; ``fan`` counts from 1 at the inner corner of its zone and layer."""

    @property
    def eye(self) -> str: ...
    @property
    def zone(self) -> str: ...
    @property
    def layer(self) -> str: ...
    @property
    def fan(self) -> int: ...


P = TypeVar("P", bound=Placed)


@dataclass(frozen=True, slots=True)
class PairedLengths:
    """What was found at a pair; ``planned_difference_mm`` is left minus right on the map, 0 when mirrored."""

    left_mm: Millimetres
    right_mm: Millimetres
    planned_difference_mm: int = 0

    @property
    def off_mm(self) -> Decimal:
        return abs(Decimal(self.left_mm) - Decimal(self.right_mm) - self.planned_difference_mm)


@dataclass(frozen=True, slots=True)
class Symmetry:
    """``count_off_percent``: how far the smaller count is below the larger. None: nothing to compare."""

    pairs: int
    mean_off_mm: Fraction | None
    worst_off_mm: Decimal | None
    count_off_percent: Fraction | None


def is_off_map(found_mm: Millimetres, expected_mm: Millimetres, tolerance_mm: Millimetres = 1) -> bool:
    """A fan is off its map when it misses the planned length by the tolerance or more."""
    return abs(Decimal(found_mm) - Decimal(expected_mm)) >= tolerance_mm


def pair_positions(positions: Sequence[P]) -> tuple[tuple[P, P], ...]:
    """Which left and right fans to compare: of one zone and layer, each once, the nearest ordinals first.

    Fans without a partner are left out. Both counts start at the nose, so equal ordinals mirror each other.
    """
    lefts = [(nth, fan) for nth, fan in enumerate(positions) if fan.eye == "left"]
    rights = [(nth, fan) for nth, fan in enumerate(positions) if fan.eye == "right"]
    near = sorted(
        (abs(left.fan - right.fan), nth, other)
        for nth, left in lefts
        for other, right in rights
        if (left.zone, left.layer) == (right.zone, right.layer)
    )
    taken: set[int] = set()
    pairs: list[tuple[int, int]] = []
    for _, nth, other in near:
        if not taken & {nth, other}:
            taken |= {nth, other}
            pairs.append((nth, other))
    return tuple((positions[nth], positions[other]) for nth, other in sorted(pairs))


def symmetry(
    pairs: Sequence[PairedLengths], left_count: int | None = None, right_count: int | None = None
) -> Symmetry:
    """How evenly two eyes agree in length and in count of fans."""
    off = [pair.off_mm for pair in pairs]
    return Symmetry(
        pairs=len(off),
        mean_off_mm=Fraction(sum(off, Decimal(0))) / len(off) if off else None,
        worst_off_mm=max(off, default=None),
        count_off_percent=_count_off(left_count, right_count),
    )


def _count_off(left: int | None, right: int | None) -> Fraction | None:
    if left is None or right is None or max(left, right) == 0:
        return None
    if min(left, right) < 0:
        raise ValueError("Counts of fans cannot be below 0.")
    return Fraction(100 * abs(left - right), max(left, right))
