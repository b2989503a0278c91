"""The public check page against the bare view floor, and the status list of 100,000 certificates.

Runs on the database of the environment, which it fills: run.py gives it one to throw away.
"""

import logging
import os
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from itertools import count
from random import Random
from statistics import median
from time import perf_counter
from uuid import UUID

import django

django.setup()

from django.core.cache import cache
from django.core.management import call_command
from django.db import connection, transaction
from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone

from academy.models import Membership
from assessments.credentials.code import code_from
from assessments.credentials.status_list import BITS, encode, status_credential
from assessments.credentials.tokens import sign
from assessments.models import Certificate, CertificateEvent
from assessments.selectors.credentials import kid_of_key
from assessments.selectors.signing_keys import signing_key
from assessments.selectors.status_lists import status_list
from courses.services.catalogue import load_catalogue
from tests.bench.floor import FLOORS
from tests.factories.academy import make_cast
from tests.factories.certificates import make_certificate

CERTIFICATES, ENDED_SHARE = 100_000, 0.01
REPEATS, WARM_UPS = 60, 5
QUERIES = 3  # of the check page, known or unknown
GOAL = 2.0
SEED = 20_260_302
_ASKERS = count(1)
_CLIENT = Client()


def main() -> None:
    logging.getLogger("django.request").setLevel(logging.ERROR)
    call_command("migrate", verbosity=0)
    load_catalogue()
    cast = make_cast()
    row = make_certificate(cast.ada, cast.ines, at=timezone.now() - timedelta(days=1))
    with transaction.atomic():
        _fill(row, cast.owner)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")  # as the database does by itself after a while
    cache.clear()
    print(f"\nCheck page on {connection.vendor} among {Certificate.objects.count():,} certificates,")
    print(f"load {os.getloadavg()[0]:.1f}; medians of {REPEATS}, in turn; goal: {GOAL:g} times the floor.")
    _print_pages(row)
    _print_status_list(row)


def _fill(row: Certificate, owner: Membership) -> None:
    """Copies without content at places of their own; one in a hundred is revoked, one suspended."""
    rng = Random(SEED)
    places = [place for place in rng.sample(range(BITS), CERTIFICATES) if place != row.status_index]
    values = {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}
    copies = Certificate.objects.bulk_create(
        (Certificate(**{**values, **_own(nth, place, rng)}) for nth, place in enumerate(places[:-1], 2)),
        batch_size=2_000,
    )
    ended = rng.sample(copies, int(2 * ENDED_SHARE * CERTIFICATES))
    CertificateEvent.objects.bulk_create(
        (
            CertificateEvent(certificate=copy, kind=kind, reason="Invented", by=owner, at=row.issued_at)
            for copy, kind in zip(ended, ("revoked", "suspended") * len(ended), strict=False)
        ),
        batch_size=2_000,
    )


def _own(nth: int, place: int, rng: Random) -> dict[str, object]:
    return {
        "id": None,
        "number": nth,
        "code": code_from(rng.randbytes(8)),
        "subject_id": UUID(int=rng.getrandbits(128), version=4),
        "status_index": place,
        "replaces_id": nth - 1 if nth > 2 else 1,
        "token": "unsigned",
        "content": {},
    }


def _print_pages(row: Certificate) -> None:
    known = reverse("assessments:check-code", args=[row.code])
    unknown = reverse("assessments:check-code", args=["0" * 12])
    runs: dict[str, Callable[[], object]] = {
        "known": partial(_ask, known, 200),
        "unknown": partial(_ask, unknown, 404),
        "known, JSON": partial(_ask, known, 200, accept="application/json"),
        **{f"floor {kind}": partial(_floor, kind) for kind in FLOORS},
    }
    times = _in_turn(runs)
    for name, milliseconds in times.items():
        ratios = "".join(f" {milliseconds / times[f'floor {kind}']:6.2f} x {kind}" for kind in FLOORS)
        print(f"  {name:14} {milliseconds:7.2f} ms{'' if name.startswith('floor') else ratios}")


def _in_turn(runs: dict[str, Callable[[], object]]) -> dict[str, float]:
    taken: dict[str, list[float]] = {name: [] for name in runs}
    for nth in range(WARM_UPS + REPEATS):
        for name, run in runs.items():
            began = perf_counter()
            run()
            if nth >= WARM_UPS:
                taken[name].append(1000 * (perf_counter() - began))
    return {name: median(each) for name, each in taken.items()}


def _ask(path: str, status: int, accept: str = "text/html") -> None:
    """From a new address each time: the limit on guesses is not what is measured."""
    nth = next(_ASKERS)
    address = f"10.{nth >> 16}.{nth >> 8 & 255}.{nth & 255}"
    answer = _CLIENT.get(path, headers={"accept": accept}, REMOTE_ADDR=address)
    assert answer.status_code == status, f"{path} answered {answer.status_code}"


def _floor(kind: str) -> None:
    with override_settings(ROOT_URLCONF="tests.bench.floor"):
        assert _CLIENT.get(f"/floor/{kind}/{QUERIES}/").status_code == 200


def _print_status_list(row: Certificate) -> None:
    academy_id, at = row.academy_id, timezone.now()
    key, thumbprint = signing_key(academy_id)
    facts = status_list(academy_id, "revocation", 1, at=at)
    listed = status_credential(facts)
    url = reverse("assessments:status", args=[academy_id, "revocation", 1])
    runs: dict[str, Callable[[], object]] = {
        "gather": lambda: status_list(academy_id, "revocation", 1, at=at),
        "encode": lambda: encode(facts.indexes),
        "sign": lambda: sign(listed, key, kid_of_key(thumbprint)),
        "served whole": lambda: _CLIENT.get(url),
    }
    print(f"Status list: {len(facts.indexes):,} of {BITS:,} bits set")
    for name, milliseconds in _in_turn(runs).items():
        print(f"  {name:14} {milliseconds:7.2f} ms")
    print(f"  as sent        {len(_CLIENT.get(url).content) / 1024:7.1f} KiB")


if __name__ == "__main__":
    main()
