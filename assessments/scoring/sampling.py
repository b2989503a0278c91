"""Which placed fans are inspected: a stratified draw that nobody at the bench can steer."""

from dataclasses import dataclass
from hashlib import sha256

EYES = ("left", "right")


class SamplingError(ValueError):
    """The sample asked for cannot be drawn; ``message`` says what to change."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


@dataclass(frozen=True, slots=True)
class SamplePlan:
    """How many fans to inspect where; by default 5 a zone an eye, 40 in all.

    ``fans_per_cell``: placed fans in one zone and layer of one eye, the population of the draw.
    ``gaps_per_zone``, ``directions_per_zone``: drawn fans of a zone that are also measured.
    """

    zones: tuple[str, ...] = ("inner", "inner_mid", "outer_mid", "outer")
    layers: tuple[str, ...] = ("top", "bottom")
    per_zone: int = 5
    fans_per_cell: int = 10
    gaps_per_zone: int = 2
    directions_per_zone: int = 2

    def __post_init__(self) -> None:
        _check_names("zone", self.zones)
        _check_names("layer", self.layers)
        _check_sizes(self)


@dataclass(frozen=True, slots=True)
class Position:
    """One fan to inspect; ``fan`` counts from 1 at the inner corner inside its zone and layer."""

    index: int
    eye: str
    zone: str
    layer: str
    fan: int
    wants_gap: bool
    wants_direction: bool


def draw_positions(plan: SamplePlan, *, seed: int) -> tuple[Position, ...]:
    """Draw the fans to inspect, in the order in which tweezers travel each lid once.

    Every fan of a zone is equally likely, none comes twice, and layers take turns.

    The draw ranks fans by the SHA-256 (FIPS 180-4) of ``seed/eye/zone/layer/fan``. Unlike a random
    generator of a library, whose methods may change between versions, this gives the same fans on any
    machine for ever, and a student who disputes a sample can recompute it with ``sha256sum``.
    """
    drawn = [
        (eye, zone, layer, fan, turn)
        for eye in EYES
        for zone in plan.zones
        for layer, fan, turn in sorted(
            _draw_zone(plan, f"{seed}/{eye}/{zone}"), key=lambda pick: (plan.layers.index(pick[0]), pick[1])
        )
    ]
    return tuple(
        Position(index, eye, zone, layer, fan, turn < plan.gaps_per_zone, turn < plan.directions_per_zone)
        for index, (eye, zone, layer, fan, turn) in enumerate(drawn)
    )


def _draw_zone(plan: SamplePlan, key: str) -> list[tuple[str, int, int]]:
    """(layer, fan, turn of the draw) for one zone; turn 0 was drawn first."""
    start = _rank(key) % len(plan.layers)
    turns = plan.layers[start:] + plan.layers[:start]
    ranked = {layer: _ranked_fans(plan, f"{key}/{layer}") for layer in plan.layers}
    picks = [(turns[turn % len(turns)], turn // len(turns)) for turn in range(plan.per_zone)]
    return [(layer, ranked[layer][nth], turn) for turn, (layer, nth) in enumerate(picks)]


def _ranked_fans(plan: SamplePlan, key: str) -> list[int]:
    return sorted(range(1, plan.fans_per_cell + 1), key=lambda fan: _rank(f"{key}/{fan}"))


def _rank(text: str) -> int:
    return int.from_bytes(sha256(text.encode()).digest(), "big")


def _check_names(what: str, names: tuple[str, ...]) -> None:
    if not names:
        raise SamplingError(f"no_{what}s", f"The plan names no {what}s. Name at least one {what}.")
    if len(set(names)) < len(names):
        raise SamplingError(f"duplicate_{what}s", f"The plan names a {what} twice. Name each {what} once.")


def _check_sizes(plan: SamplePlan) -> None:
    population = plan.fans_per_cell * len(plan.layers)
    if plan.per_zone < 1:
        raise SamplingError("per_zone_too_small", "Inspect at least 1 fan in each zone.")
    if plan.per_zone > population:
        raise SamplingError(
            "per_zone_too_large",
            f"{plan.per_zone} fans to inspect in a zone, but only {max(population, 0)} are placed there. "
            "Inspect fewer, or correct the number of fans placed.",
        )
    for what, count in (("gap", plan.gaps_per_zone), ("direction", plan.directions_per_zone)):
        if not 0 <= count <= plan.per_zone:
            raise SamplingError(
                f"bad_{what}_count",
                f"{count} {what} measures in a zone, but {plan.per_zone} fans are inspected there. "
                f"Choose from 0 to {plan.per_zone}.",
            )
