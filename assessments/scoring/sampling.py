"""Which placed fans are inspected: a stratified draw that nobody at the bench can steer."""

from collections.abc import Iterable
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
    ``pairs_per_zone``: drawn fans of a zone that stand at one place on both eyes, their lengths measured.
    """

    zones: tuple[str, ...] = ("inner", "inner_mid", "outer_mid", "outer")
    layers: tuple[str, ...] = ("top", "bottom")
    per_zone: int = 5
    fans_per_cell: int = 10
    gaps_per_zone: int = 2
    directions_per_zone: int = 2
    pairs_per_zone: int = 0

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
    wants_length: bool = False


def draw_positions(plan: SamplePlan, *, seed: int) -> tuple[Position, ...]:
    """Draw the fans to inspect, in the order in which tweezers travel each lid once.

    Every fan of a zone is equally likely, none comes twice, and layers take turns.

    The draw ranks fans by the SHA-256 (FIPS 180-4) of ``seed/eye/zone/layer/fan``. Unlike a random
    generator of a library, whose methods may change between versions, this gives the same fans on any
    machine for ever, and a student who disputes a sample can recompute it with ``sha256sum``. Pairs come
    first and rank by ``seed/both/zone/layer/fan``; they also settle whose layer's turn it is on both eyes.
    """
    drawn = [
        (eye, zone, layer, fan, turn)
        for eye in EYES
        for zone in plan.zones
        for layer, fan, turn in sorted(
            _draw_zone(plan, seed, eye, zone), key=lambda pick: (plan.layers.index(pick[0]), pick[1])
        )
    ]
    return tuple(
        Position(
            index,
            eye,
            zone,
            layer,
            fan,
            wants_gap=turn < plan.gaps_per_zone,
            wants_direction=turn < plan.directions_per_zone,
            wants_length=turn < plan.pairs_per_zone,
        )
        for index, (eye, zone, layer, fan, turn) in enumerate(drawn)
    )


def _draw_zone(plan: SamplePlan, seed: int, eye: str, zone: str) -> list[tuple[str, int, int]]:
    """(layer, fan, turn of the draw) for one zone; turn 0 was drawn first."""
    own, both = f"{seed}/{eye}/{zone}", f"{seed}/both/{zone}"
    start = _rank(both if plan.pairs_per_zone else own) % len(plan.layers)
    turns = plan.layers[start:] + plan.layers[:start]
    layers = [turns[turn % len(turns)] for turn in range(plan.per_zone)]
    pairs = layers[: plan.pairs_per_zone]
    ranked = {
        layer: _ranked_fans(plan, f"{both}/{layer}", f"{own}/{layer}", pairs.count(layer))
        for layer in plan.layers
    }
    return [(layer, ranked[layer][turn // len(turns)], turn) for turn, layer in enumerate(layers)]


def _ranked_fans(plan: SamplePlan, both: str, own: str, pairs: int) -> list[int]:
    """Fans of one layer in the order they are drawn: those paired with the other eye, then this eye's own."""
    paired = _ranked(range(1, plan.fans_per_cell + 1), both)[:pairs]
    return paired + _ranked((fan for fan in range(1, plan.fans_per_cell + 1) if fan not in paired), own)


def _ranked(fans: Iterable[int], key: str) -> list[int]:
    return sorted(fans, key=lambda fan: _rank(f"{key}/{fan}"))


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
    measures = (
        ("gap", plan.gaps_per_zone),
        ("direction", plan.directions_per_zone),
        ("pair", plan.pairs_per_zone),
    )
    for what, count in measures:
        if not 0 <= count <= plan.per_zone:
            raise SamplingError(
                f"bad_{what}_count",
                f"{count} {what} measures in a zone, but {plan.per_zone} fans are inspected there. "
                f"Choose from 0 to {plan.per_zone}.",
            )
