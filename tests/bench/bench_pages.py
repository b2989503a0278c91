"""Pages against a floor: a bare view behind the same middleware that runs as many queries and says "done".

The goal is held against the strictest floor in the words of the goal: as many queries as the page, each one
row by its key, nothing rendered. Beside it stand floors that send raw SQL and that render the bare frame.
Pages that keep parts are measured with them kept, and with them made anew, each against a floor of as many
queries as it takes. Processor time of this process, because a busy machine stretches the clock on the wall.
The time on the wall stands beside it: there the server of the database works too.
Runs on the database of the environment, which it fills with the demo: run.py gives it one to throw away.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from statistics import median
from time import perf_counter, process_time
from uuid import uuid4

import django

django.setup()

from django.core.cache import caches
from django.core.management import call_command
from django.db import connection, transaction
from django.test import Client, override_settings
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from academy.models import Academy, Membership, Role, User
from assessments.management.commands.seed_demo import seed
from assessments.models import PracticeSet
from tests.bench.floor import FLOORS
from tests.factories.academy import sign_in

REPEATS, WARM_UPS = 40, 4
GOAL = 2.0
CROWDS = (20, 2_000)
Request = Callable[[], int]


@dataclass(frozen=True, slots=True)
class Page:
    name: str
    member: Membership
    path: str
    form: dict[str, object] | None = None
    is_anew: bool = False  # its kept parts are dropped before each request


@dataclass(frozen=True, slots=True)
class Spent:
    """Milliseconds of this process, and on the wall."""

    cpu_ms: float
    wall_ms: float


def main() -> None:
    call_command("migrate", verbosity=0)
    began, cpu = perf_counter(), process_time()
    academy = seed(now=timezone.now())
    sets = PracticeSet.objects.filter(academy=academy).count()
    print(
        f"\nPages on {connection.vendor}: demo of {sets} sets seeded in {perf_counter() - began:.1f} s, "
        f"{process_time() - cpu:.1f} s of processor"
    )
    print(f"Medians of {REPEATS} requests, page and floors in turn; goal: {GOAL:g} times the floor by key.")
    _print_pages(academy)
    _print_crowds(academy)


def _print_pages(academy: Academy) -> None:
    ratios = "".join(f"{f'/{kind}':>9} {'wall':>5}" for kind in FLOORS)
    print(f"{'page':32} {'queries':>7} {'cpu ms':>7} {'wall ms':>8} {'by key cpu':>11} {'wall':>6}{ratios}")
    for page in _pages(academy):
        queries = _queries(page)
        spent, *floors = _medians(page, queries)
        by_key = floors[list(FLOORS).index("by_key")]
        against = "".join(
            f"{spent.cpu_ms / floor.cpu_ms:9.2f} {spent.wall_ms / floor.wall_ms:5.2f}" for floor in floors
        )
        print(
            f"{page.name:32} {queries:7} {spent.cpu_ms:7.2f} {spent.wall_ms:8.2f} {by_key.cpu_ms:11.2f} "
            f"{by_key.wall_ms:6.2f}{against}{'  over' if spent.cpu_ms > GOAL * by_key.cpu_ms else ''}",
            flush=True,
        )


def _pages(academy: Academy) -> Iterator[Page]:
    staff = academy.memberships.select_related("user").filter(role=Role.EDUCATOR)[0]
    graded = PracticeSet.objects.filter(academy=academy, state="graded").order_by("-graded_at")[0]
    student = graded.student
    waiting = PracticeSet.objects.get(academy=academy, state="inspected")
    yield from _kept_and_anew("one set", staff, reverse("assessments:set", args=[graded.uid]))
    yield Page("set document (API)", staff, reverse("api:set", args=[waiting.uid]))
    yield Page(
        "marks, submitted", staff, reverse("assessments:bench-marks", args=[waiting.uid]), _marks(waiting)
    )
    yield from _kept_and_anew("student page", staff, reverse("assessments:student", args=[student.pk]))
    yield from _kept_and_anew("where I stand", student, reverse("assessments:stand"))
    yield Page("students", staff, reverse("assessments:student-list"))
    yield Page("today", staff, reverse("assessments:today"))


def _kept_and_anew(name: str, member: Membership, path: str) -> Iterator[Page]:
    yield Page(f"{name}, parts kept", member, path)
    yield Page(f"{name}, parts made anew", member, path, is_anew=True)


def _marks(practice_set: PracticeSet) -> dict[str, object]:
    lines = practice_set.rubric.hygiene_lines.values_list("code", flat=True)
    return {
        "uid": uuid4(),
        "lines_seen": "on",
        "lines_done": list(lines),
        "left_count": 60,
        "right_count": 60,
        "level_product": 3,
        "level_layers": 3,
        "note": "Even fans. Look from the side before you let go.",
        "drill": "hold-and-check",
        "drill_count": 20,
    }


def _medians(page: Page, queries: int) -> list[Spent]:
    """Of the page and of every floor, taken in turn."""
    runs = [_request(page), *(_floor(page.member, kind, queries) for kind in FLOORS)]
    times: list[list[Spent]] = [[] for _ in runs]
    for nth in range(WARM_UPS + REPEATS):
        for run, taken in zip(runs, times, strict=True):
            with _undone():
                if page.is_anew:
                    caches["parts"].clear()
                cpu, wall = process_time(), perf_counter()
                run()
                spent = Spent(1000 * (process_time() - cpu), 1000 * (perf_counter() - wall))
                if nth >= WARM_UPS:
                    taken.append(spent)
    return [
        Spent(median(each.cpu_ms for each in taken), median(each.wall_ms for each in taken))
        for taken in times
    ]


def _queries(page: Page) -> int:
    request = _request(page)
    with _undone():
        request()
    if page.is_anew:
        caches["parts"].clear()
    with _undone(), CaptureQueriesContext(connection) as asked:
        request()
    return len(asked)


def _request(page: Page) -> Request:
    client = _client(page.member)
    expected = 200 if page.form is None else 302

    def send() -> int:
        answer = client.get(page.path) if page.form is None else client.post(page.path, page.form)
        assert answer.status_code == expected, f"{page.name} answered {answer.status_code}"
        return len(answer.content)

    return send


def _floor(member: Membership, kind: str, queries: int) -> Request:
    """As many queries as the page in all: those of the middleware are taken off the view's own."""
    client = _client(member)
    with CaptureQueriesContext(connection) as asked:
        client.get(f"/floor/{kind}/1/")
    path = f"/floor/{kind}/{max(queries - len(asked) + 1, 1)}/"

    return lambda: len(client.get(path).content)


def _client(member: Membership) -> Client:
    """In a session that is in use: its first request is the one that writes it down."""
    client = Client()
    sign_in(client, member)
    client.get("/floor/raw/1/")
    return client


@contextmanager
def _undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def _print_crowds(academy: Academy) -> None:
    staff = academy.memberships.select_related("user").filter(role=Role.EDUCATOR)[0]
    names = {"students": "assessments:student-list", "today": "assessments:today", "people": "academy:people"}
    owner = academy.memberships.select_related("user").get(role=Role.OWNER)
    print(f"\n{'list':12} {'students':>9} {'queries':>8} {'cpu ms':>8} {'wall ms':>8}")
    for size in CROWDS:
        _grow(academy, size)
        for name, url in names.items():
            page = Page(name, owner if name == "people" else staff, reverse(url))
            queries = _queries(page)
            spent = _medians(page, queries)[0]
            print(f"{name:12} {size:9,} {queries:8} {spent.cpu_ms:8.2f} {spent.wall_ms:8.2f}")


def _grow(academy: Academy, size: int) -> None:
    """Bring the academy to ``size`` students; the new ones have no sets yet."""
    missing = size - academy.memberships.filter(role=Role.STUDENT).count()
    known = User.objects.count()
    users = User.objects.bulk_create(
        User(email=f"crowd{known + nth}@marramlane.example", name=f"Crowd {known + nth}")
        for nth in range(missing)
    )
    cohort, joined = academy.cohorts.all()[0], timezone.now() - timedelta(days=30)
    Membership.objects.bulk_create(
        Membership(academy=academy, user=user, role=Role.STUDENT, cohort=cohort, joined_at=joined)
        for user in users
    )


if __name__ == "__main__":
    # Once for the whole run: a change of it would empty the URL caches, and the next page would fill them.
    with override_settings(ROOT_URLCONF="tests.bench.floor"):
        main()
