"""How many fans stand where, in which length each, and in what time. Whole numbers that add up exactly."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from courses.mapping.lash_map import EYES, Cell, CellKey, LashMap, MapError, cell
from courses.mapping.pace import seconds_per_fan


@dataclass(frozen=True, slots=True)
class FanPlan:
    """Fans to place by (eye, zone, layer), eye by eye, from the top layer down and the nose outwards."""

    fans: Mapping[CellKey, int]

    @property
    def total(self) -> int:
        return sum(self.fans.values())

    def of(self, *, eye: str | None = None, zone: str | None = None, layer: str | None = None) -> int:
        """Fans of every cell that matches; ``plan.of(eye="left")`` is one eye."""
        wanted = (eye, zone, layer)
        return sum(
            fans
            for key, fans in self.fans.items()
            if all(want in (None, have) for want, have in zip(wanted, key, strict=True))
        )


@dataclass(frozen=True, slots=True)
class TimeRow:
    """One stretch of work; ``done_by_s`` counts from the start of the set, pauses left out."""

    eye: str
    layer: str
    zone: str
    fans: int
    seconds: int
    done_by_s: int


def fans_from_coverage(lashes_per_eye: int, coverage_percent: int) -> int:
    """Fans an eye: that share of the usable lashes, one fan on one lash; a half goes to the even number."""
    return round(Fraction(lashes_per_eye * coverage_percent, 100))


def plan_counts(
    lash_map: LashMap,
    fans_per_eye: int,
    *,
    zone_weights: Mapping[str, int] | None = None,
    layer_weights: Mapping[str, int] | None = None,
) -> FanPlan:
    """Fans by zone and layer; each eye carries exactly ``fans_per_eye``.

    Zones share by weight (evenly unless told), then layers share within a zone, by largest remainder.
    A tie between zones goes to the one nearer the middle of the lid; between layers it takes turns.
    """
    if fans_per_eye < 0:
        raise ValueError(f"{fans_per_eye} fans an eye cannot be placed. Give 0 or more.")
    zones, layers = lash_map.zones, lash_map.layers
    middle = sorted(range(len(zones)), key=lambda nth: abs(2 * nth - len(zones) + 1))
    by_zone = largest_remainder(fans_per_eye, _weights(zones, zone_weights), middle)
    found: dict[tuple[str, str], int] = {}
    for nth, zone in enumerate(zones):
        turn = [(nth + step) % len(layers) for step in range(len(layers))]
        by_layer = largest_remainder(by_zone[nth], _weights(layers, layer_weights), turn)
        found.update({(zone, layer): fans for layer, fans in zip(layers, by_layer, strict=True)})
    return FanPlan(
        {(eye, zone, layer): found[zone, layer] for eye in EYES for layer in layers for zone in zones}
    )


def largest_remainder(total: int, weights: Sequence[int], ties: Sequence[int]) -> list[int]:
    """Whole shares of ``total`` in proportion to ``weights``; ``ties`` orders the equal remainders.

    The method of largest remainders (Hamilton's): every share is its exact value rounded down or up.
    """
    whole = sum(weights)
    if min(weights, default=0) < 0 or whole < 1:
        raise ValueError("Weights must be 0 or more, and one of them above 0.")
    shares = [total * weight // whole for weight in weights]
    order = sorted(ties, key=lambda nth: -(total * weights[nth] % whole))
    for nth in order[: total - sum(shares)]:
        shares[nth] += 1
    return shares


@lru_cache(maxsize=1024)
def spread(weights: tuple[int, ...], steps: int) -> tuple[int, ...]:
    """For each step which weight is served, so that after every step each has its share within one.

    Tijdeman, The chairman assignment problem, Discrete Mathematics 32 (1980) 323-330: with k weights the
    count after t steps is off t·weight/total by at most 1 - 1/(2k - 2). A longer run begins like a shorter.
    """
    whole, slack = sum(weights), max(2 * len(weights) - 2, 1)
    served = [0] * len(weights)
    order: list[int] = []
    for step in range(1, steps + 1):
        due = [step * weight - whole * count for weight, count in zip(weights, served, strict=True)]
        ripe = [nth for nth, owed in enumerate(due) if slack * owed >= whole]
        chosen = min(ripe, key=lambda nth: Fraction(whole * (slack - 1) - slack * due[nth], weights[nth]))
        served[chosen] += 1
        order.append(chosen)
    return tuple(order)


def fan_lengths_mm(planned: Cell, fans: int) -> tuple[int, ...]:
    """The length of each fan of a cell, counted from the inner corner; the long ones stand evenly apart."""
    order = spread(tuple(part.share for part in planned.lengths), fans)
    return tuple(planned.lengths[nth].length_mm for nth in order)


def expected_length_mm(
    lash_map: LashMap, eye: str, zone: str, layer: str, fan: int, fans_in_cell: int
) -> int:
    """The length planned for one fan, counted from 1 at the inner corner. Raises MapError ``no_such_fan``."""
    if not 1 <= fan <= fans_in_cell:
        raise MapError(
            "no_such_fan", f"There is no fan {fan} among {fans_in_cell}. Count from 1 at the inner corner."
        )
    return fan_lengths_mm(cell(lash_map, eye, zone, layer), fan)[-1]


def length_counts(lash_map: LashMap, plan: FanPlan) -> dict[CellKey, dict[int, int]]:
    """Fans of each length in mm, by (eye, zone, layer)."""
    found: dict[CellKey, dict[int, int]] = {}
    for key, fans in plan.fans.items():
        lengths = fan_lengths_mm(cell(lash_map, *key), fans)
        found[key] = {length: lengths.count(length) for length in sorted(set(lengths))}
    return found


def time_plan(plan: FanPlan, minutes: int, *, check_minutes: int = 0) -> tuple[TimeRow, ...]:
    """When each zone should be done if a set is to end in ``minutes``, every fan taking equally long.

    ``check_minutes`` are kept back for the student's own check at the end.
    """
    if not 0 <= check_minutes < minutes:
        raise ValueError(f"{check_minutes} min for the check leave no time to work within {minutes} min.")
    return tuple(_time_rows(plan, seconds_per_fan(minutes - check_minutes, plan.total)))


def _time_rows(plan: FanPlan, pace_s: Fraction) -> Iterator[TimeRow]:
    placed = done_by_s = 0
    for (eye, zone, layer), fans in plan.fans.items():
        placed += fans
        start_s, done_by_s = done_by_s, round(placed * pace_s)
        yield TimeRow(eye, layer, zone, fans, done_by_s - start_s, done_by_s)


def _weights(codes: Sequence[str], weights: Mapping[str, int] | None) -> list[int]:
    return [1 if weights is None else weights.get(code, 0) for code in codes]
