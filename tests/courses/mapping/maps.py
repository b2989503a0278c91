"""Maps for the tests of this room: two of our own invention, and any valid one for properties."""

from hypothesis import strategies as st

from courses.mapping.lash_map import (
    BOTH,
    LAYERS,
    Cell,
    Direction,
    Fan,
    LashMap,
    LengthShare,
    keys_of,
    uniform_map,
    usual_zones,
)
from courses.mapping.trade import CURLS, DIAMETERS

ZONES = ("inner", "inner_mid", "outer_mid", "outer")
OPEN = Fan("open", 6, 5, "C", 30, 50)
CLOSED = Fan("closed", 3, 7, "D")


def soft_volume(**lengths):
    """Open fans of one length a cell on two layers; ``outer_top=12`` changes one length."""
    planned = dict(zip(ZONES, (9, 10, 10, 9), strict=True))
    cells = {
        (zone, layer): mm - (layer == "bottom") for zone, mm in planned.items() for layer in ("top", "bottom")
    }
    cells |= {tuple(name.rsplit("_", 1)): mm for name, mm in lengths.items()}
    return uniform_map(ZONES, ("top", "bottom"), cells, OPEN)


def mix(*parts):
    return tuple(LengthShare(length, share) for length, share in parts)


def texture(*parts, fan=CLOSED, **fields):
    """One layer of closed fans, the same mix of lengths in every zone."""
    cells = {(BOTH, zone, "top"): Cell(mix(*parts), fan) for zone in ZONES}
    return LashMap(ZONES, ("top",), "mirror", cells, textured=True, **fields)


@st.composite
def fans(draw):
    shape = draw(st.sampled_from(["open", "closed", "spike"]))
    low = draw(st.integers(1, 120))
    opening = (low, draw(st.integers(low, 120))) if shape == "open" else (None, None)
    return Fan(
        shape,
        draw(st.integers(1, 30)),
        draw(st.sampled_from(DIAMETERS)),
        draw(st.sampled_from(CURLS)),
        *opening,
    )


@st.composite
def mixes(draw):
    lengths = draw(st.lists(st.integers(5, 18), min_size=1, max_size=4, unique=True))
    cuts = draw(
        st.lists(st.integers(1, 99), min_size=len(lengths) - 1, max_size=len(lengths) - 1, unique=True)
    )
    edges = [0, *sorted(cuts), 100]
    return mix(*((mm, b - a) for mm, a, b in zip(lengths, edges, edges[1:], strict=False)))


@st.composite
def lash_maps(draw):
    zones = usual_zones(draw(st.integers(3, 9)))
    rows = draw(st.sets(st.sampled_from(LAYERS), min_size=1))
    layers = tuple(layer for layer in LAYERS if layer in rows)
    eyes = draw(st.sampled_from(["mirror", "separate"]))
    choice = draw(st.lists(st.builds(Cell, mixes(), fans()), min_size=1, max_size=3))
    turn = draw(st.integers(1, 5))
    keys = enumerate(keys_of(zones, layers, eyes))
    cells = {key: choice[nth * turn % len(choice)] for nth, key in keys}
    points = sorted(draw(st.sets(st.integers(0, 100), max_size=4)))
    return LashMap(
        zones=zones,
        layers=layers,
        eyes=eyes,
        cells=cells,
        directions=tuple(Direction(point, draw(st.integers(-60, 60))) for point in points),
        placement=tuple(draw(st.lists(st.sampled_from(["peaks first", "then fillers"]), max_size=2))),
        textured=draw(st.booleans()),
        eye_shape=draw(st.sampled_from(["", "almond", "hooded"])),
        face_note=draw(st.sampled_from(["", "high brow <b>"])),
        natural_length_mm=draw(st.none() | st.integers(3, 18)),
    )
