"""Milliseconds to plan and draw a map, processor time, beside the floor each must stay under.

Run with: python -m tests.bench.bench_mapping
"""

from collections.abc import Callable
from statistics import median
from time import process_time

from courses.mapping.checks import check_map
from courses.mapping.counts import length_counts, plan_counts
from courses.mapping.drawing import draw_both
from courses.mapping.lash_map import Fan, LashMap, uniform_map, usual_zones
from courses.mapping.map_json import read_map, write_map
from courses.mapping.svg import svg_text

ROUNDS = 50
FLOOR_MS = 5.0


def main() -> None:
    for zones, layers in ((4, ("top", "bottom")), (9, ("top", "middle", "bottom"))):
        lash_map = _open_fans(zones, layers)
        print(f"{zones} zones, {len(layers)} layers, both eyes (floor {FLOOR_MS:.0f} ms)")
        for name, run in _runs(lash_map).items():
            print(f"  {name:<28} {median(_measured(run) for _ in range(ROUNDS)):6.2f} ms")


def _runs(lash_map: LashMap) -> dict[str, Callable[[], object]]:
    drawings = draw_both(lash_map)
    data = write_map(lash_map)
    return {
        "draw": lambda: draw_both(lash_map),
        "write the drawing as SVG": lambda: [svg_text(each, "Map") for each in drawings],
        "read from JSON": lambda: read_map(data),
        "checks": lambda: check_map(lash_map, for_beginners=True),
        "counts and lengths": lambda: length_counts(lash_map, plan_counts(lash_map, 80)),
    }


def _measured(run: Callable[[], object]) -> float:
    start = process_time()
    run()
    return 1000 * (process_time() - start)


def _open_fans(zones: int, layers: tuple[str, ...]) -> LashMap:
    codes = usual_zones(zones)
    lengths = {(zone, layer): 8 + nth % 4 for nth, zone in enumerate(codes) for layer in layers}
    return uniform_map(codes, layers, lengths, Fan("open", 6, 5, "C", 30, 50))


if __name__ == "__main__":
    main()
