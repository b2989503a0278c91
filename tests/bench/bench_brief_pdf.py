"""Milliseconds to print a set brief that was never printed before, beside the floor it must stay under.

Runs on the database of the environment, which it fills: run.py gives it one to throw away.
"""

from itertools import cycle
from statistics import median
from time import perf_counter, process_time

import django

django.setup()

from django.core.management import call_command

from courses.documents import PAPERS, Paper, set_brief
from courses.mapping.lash_map import Cell, Fan, LashMap, LengthShare, keys_of, usual_zones
from courses.models import MapGuide
from courses.selectors.brief_sheet import BriefSheet, brief_sheet
from courses.selectors.briefs import newest_versions
from tests.factories.academy import make_cast
from tests.factories.courses import make_brief

WARM_UPS, ROUNDS = 4, 20
FLOOR_MS = 60.0
SAMPLING = ("5 fans in each zone of each eye, the layers taking turns.",)
FANS = (Fan("open", 6, 5, "C", 30, 50), Fan("closed", 3, 7, "D"))


def main() -> None:
    call_command("migrate", verbosity=0)
    cast = make_cast()
    for zones, layers in ((4, ("top", "bottom")), (9, ("top", "middle", "bottom"))):
        names = [f"{zones} zones, brief {nth}" for nth in range(WARM_UPS + ROUNDS)]
        for nth, name in enumerate(names):
            make_brief(cast.academy, cast.ines, name=name, lash_map=_map(usual_zones(zones), layers, nth))
        guide = MapGuide.usual(cast.academy)
        sheets = [
            brief_sheet(version, guide)
            for version in newest_versions(cast.academy)
            if version.brief.name in names
        ]
        print(f"{zones} zones, {len(layers)} layers, each brief another (floor {FLOOR_MS:.0f} ms)")
        for paper in PAPERS:
            _print_times(sheets, paper)


def _print_times(sheets: list[BriefSheet], paper: Paper) -> None:
    for sheet in sheets[:WARM_UPS]:
        set_brief(sheet, sampling=SAMPLING, paper=paper)
    wall, processor = zip(*(_measured(sheet, paper) for sheet in sheets[WARM_UPS:]), strict=True)
    verdict = "" if median(wall) <= FLOOR_MS else "  over the floor"
    print(
        f"  {paper}: wall {median(wall):6.1f} ms (worst {max(wall):.1f}),"
        f" processor {median(processor):6.1f} ms{verdict}"
    )


def _measured(sheet: BriefSheet, paper: Paper) -> tuple[float, float]:
    wall, processor = perf_counter(), process_time()
    set_brief(sheet, sampling=SAMPLING, paper=paper)
    return 1000 * (perf_counter() - wall), 1000 * (process_time() - processor)


def _map(zones: tuple[str, ...], layers: tuple[str, ...], nth: int) -> LashMap:
    """A map unlike the others, half of its cells mixed."""
    shares = cycle(((LengthShare(8, 100),), (LengthShare(7, 75 - nth), LengthShare(10, 25 + nth))))
    cells = {
        key: Cell(parts, FANS[nth % 2])
        for key, parts in zip(keys_of(zones, layers, "mirror"), shares, strict=False)
    }
    return LashMap(zones, layers, "mirror", cells, placement=(f"Note {nth}.",), textured=True)


if __name__ == "__main__":
    main()
