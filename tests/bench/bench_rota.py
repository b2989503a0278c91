"""The week and the agenda of a rota with 10, 100 and 1,000 bookings: queries must not rise with them.

Runs on the database of the environment, which it fills: run.py gives it one to throw away.
"""

import sys
from datetime import datetime, timedelta
from itertools import product
from statistics import median
from time import process_time

import django

django.setup()

from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from academy.models import Membership
from courses.models import Bench, Booking
from tests.factories.academy import Cast, make_cast, make_member, sign_in
from tests.factories.rota import Rota, make_rota

CROWDS = (10, 100, 1_000)
BENCHES, STUDENTS = 25, 60
REPEATS, WARM_UPS = 20, 3
PAGES = ("courses:rota", "courses:agenda")


def main() -> int:
    call_command("migrate", verbosity=0)
    cast = make_cast()
    rota = make_rota(cast, benches=BENCHES)
    places = _places(cast, rota)
    client = Client()
    sign_in(client, cast.ines)
    print(f"\nRota on {connection.vendor}, {BENCHES} benches; medians of {REPEATS}, processor time")
    print(f"{'page':16} {'bookings':>9} {'queries':>8} {'ms':>8} {'kB':>7}")
    queries = {name: set[int]() for name in PAGES}
    made = 0
    for crowd in CROWDS:
        Booking.objects.bulk_create(places[made:crowd])
        made = crowd
        for name in PAGES:
            queries[name].add(_print_page(client, name, crowd))
    flat = all(len(counts) == 1 for counts in queries.values())
    print("Queries are flat." if flat else "Queries RISE with bookings.")
    return 0 if flat else 1


def _places(cast: Cast, rota: Rota) -> list[Booking]:
    """As many as the largest crowd, spread over hours, days and benches of this week."""
    students = [make_member(cast.academy, f"Student {nth}", cohort=cast.cohort) for nth in range(STUDENTS)]
    now = timezone.now()
    monday = (now - timedelta(days=now.weekday())).replace(hour=9, minute=0, second=0, microsecond=0)
    slots = product(range(8), range(5), rota.benches)  # hour, day, bench
    return [
        _booking(cast, rota, students[nth % STUDENTS], bench, monday + timedelta(days=day, hours=hour))
        for nth, (hour, day, bench) in zip(range(max(CROWDS)), slots, strict=False)
    ]


def _booking(cast: Cast, rota: Rota, student: Membership, bench: Bench, starts: datetime) -> Booking:
    return Booking(
        academy=cast.academy,
        student=student,
        educator=cast.ines,
        bench=bench,
        kind=rota.group,
        starts_at=starts,
        ends_at=starts + timedelta(minutes=60),
        time_zone=cast.academy.time_zone,
        state=Booking.State.ACCEPTED,
        made_by=cast.ines,
        made_at=timezone.now(),
    )


def _print_page(client: Client, name: str, crowd: int) -> int:
    """One line; the number of queries."""
    now = timezone.now()
    day = (now - timedelta(days=now.weekday())).date().isoformat()
    url = reverse(name)
    times, size = [], 0
    for nth in range(WARM_UPS + REPEATS):
        began = process_time()
        answer = client.get(url, {"day": day})
        if nth >= WARM_UPS:
            times.append(1000 * (process_time() - began))
        assert answer.status_code == 200
        assert answer.content.count(b"/rota/bookings/") == crowd
        size = len(answer.content)
    with CaptureQueriesContext(connection) as asked:
        client.get(url, {"day": day})
    print(f"{name:16} {crowd:9} {len(asked):8} {median(times):8.1f} {size / 1000:7.0f}")
    return len(asked)


if __name__ == "__main__":
    sys.exit(main())
