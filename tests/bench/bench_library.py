"""Queries, kilobytes and processor time of a page of the library, with 500 briefs and with one page of them.

Runs on the database of the environment, which it fills: run.py gives it one to throw away.
"""

from statistics import median
from time import process_time

import django

django.setup()

from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from academy.models import Membership
from courses.mapping.lash_map import usual_zones
from courses.selectors.briefs import BRIEFS_A_PAGE
from tests.factories.academy import make_cast, sign_in
from tests.factories.courses import make_brief, plain_map

CROWD = 500
REPEATS, WARM_UPS = 15, 2
SEARCH = {"style": "volume", "fan_shape": "open", "diameter_hundredths": "5"}


def main() -> None:
    call_command("migrate", verbosity=0)
    cast = make_cast()
    client = Client()
    sign_in(client, cast.ines)
    for first, last in ((0, BRIEFS_A_PAGE), (BRIEFS_A_PAGE, CROWD)):
        for nth in range(first, last):
            _make_brief(cast.ines, nth)
        print(f"Library of {last} briefs")
        for name, query in (("first page", {}), ("last page", {"page": "99"}), ("searched", SEARCH)):
            _print_page(client, name, query)


def _print_page(client: Client, name: str, query: dict[str, str]) -> None:
    url = reverse("courses:brief-list")
    with CaptureQueriesContext(
        connection,
    ) as queries:
        size = len(client.get(url, query, headers={"host": "localhost"}).content)
    asked = len(queries)
    times = [_measured(client, url, query) for _ in range(REPEATS + WARM_UPS)][WARM_UPS:]
    print(f"  {name:<12} {asked:3} queries {size / 1024:7.0f} kB {median(times):8.1f} ms")


def _measured(client: Client, url: str, query: dict[str, str]) -> float:
    began = process_time()
    client.get(url, query, headers={"host": "localhost"})
    return 1000 * (process_time() - began)


def _make_brief(actor: Membership, nth: int) -> None:
    zones, layers = usual_zones(3 + nth % 7), ("top", "bottom")
    lengths = {(zone, layer): 8 + (nth + at) % 5 for at, zone in enumerate(zones) for layer in layers}
    lash_map = plain_map(zones=zones, layers=layers, lengths=lengths)
    make_brief(actor.academy, actor, name=f"Brief {nth:03d}", lash_map=lash_map)


if __name__ == "__main__":
    main()
