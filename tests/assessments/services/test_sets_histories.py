"""Whatever arrives at the bench, in whatever order and how often, a set lives only the life drawn for it."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import transaction
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from academy.errors import DomainError
from academy.models import AuditEntry
from assessments.models import Grade, PracticeSet, SetEvent
from assessments.selectors.sets import clock_of
from assessments.services.marking import sign_marks
from assessments.services.sets import BenchEvent
from tests.factories import bench as factory
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, make_entry

# ready → working ⇄ paused → finished → inspected → graded; abandoned from any state before inspected.
DRAWN = {
    *(("ready", "working"), ("working", "paused"), ("paused", "working")),
    *(("working", "finished"), ("paused", "finished"), ("finished", "inspected"), ("inspected", "graded")),
    *((before, "abandoned") for before in ("ready", "working", "paused", "finished")),
}
POSITIONS = 30  # three zones of one layer, five fans in each on each eye

# "onward" does whatever brings this set nearer to its marks; the rest comes as it comes.
ONWARD = {"ready": ["start"], "working": ["finish"], "paused": ["resume"], "inspected": ["sign"]}
ONWARD["finished"] = ["look all", "inspect"]
ODD = [
    "start",
    "pause",
    "resume",
    "split",
    "finish",
    "look",
    "look all",
    "inspect",
    "sign",
    "abandon",
    "grade",
]
kinds = st.sampled_from([*["onward"] * 10, *ODD, "again", "again"])
delays = st.sampled_from([timedelta(0), timedelta(minutes=3), timedelta(minutes=40)])
drifts = st.sampled_from(
    [timedelta(0)] * 4 + [timedelta(minutes=-30), timedelta(seconds=20), timedelta(hours=1)]
)
steps = st.lists(st.tuples(kinds, delays, drifts, st.integers(-1, POSITIONS)), max_size=20)


@dataclass
class History:
    bench: Bench
    made: PracticeSet
    now: datetime = STARTED
    sent: list[BenchEvent] = field(default_factory=list)
    sign_uid: UUID = field(default_factory=uuid4)
    drawn: tuple[tuple[object, ...], ...] = ()
    signed: Grade | None = None

    def step(self, kind: str, delay: timedelta, drift: timedelta, index: int) -> None:
        for one in ONWARD.get(self.made.state, ["sign"]) if kind == "onward" else [kind]:
            self._step(one, delay, drift, index)

    def _step(self, kind: str, delay: timedelta, drift: timedelta, index: int) -> None:
        self.now += delay
        before = self.made.state
        if kind == "sign":
            self._sign()
        else:
            factory.apply(self.bench, self.made, self._events(kind, self.now + drift, index), now=self.now)
        self.made.refresh_from_db()
        assert before == self.made.state or (before, self.made.state) in DRAWN
        self._check()

    def _events(self, kind: str, at: datetime, index: int) -> list[BenchEvent]:
        if kind == "again":
            return self.sent[-3:] or [factory.event("resume", at)]
        indexes = list(range(POSITIONS)) if kind == "look all" else [index]
        new = [
            factory.event("position" if "look" in kind else kind, at, **data) for data in _data(kind, indexes)
        ]
        self.sent += new
        return new

    def _sign(self) -> None:
        try:
            grade = sign_marks(
                actor=self.bench.educator,
                uid=self.made.uid,
                entry=make_entry(),
                event_uid=self.sign_uid,
                now=self.now,
            )
        except DomainError:
            return
        assert self.signed in (None, grade), "a second signature is the first one again"
        self.signed = grade

    def _check(self) -> None:
        clock = clock_of(self.made, now=self.now)
        assert clock.state == self.made.state
        assert (clock.started_at, clock.finished_at) == (self.made.started_at, self.made.finished_at)
        assert self.made.worked_s == (clock.worked_s if clock.finished_at else None)
        self._check_positions()
        assert (Grade.objects.count() == 1) == (self.made.state == "graded") == (self.signed is not None)
        assert AuditEntry.objects.filter(action="sign_marks").count() == Grade.objects.count()

    def _check_positions(self) -> None:
        drawn = tuple(
            (row.pk, row.index, row.eye, row.zone, row.layer, row.fan, row.wants_gap)
            for row in factory.positions_of(self.made)
        )
        assert len(drawn) == (POSITIONS if self.made.finished_at else 0)
        assert self.drawn in ((), drawn), "positions never change after the draw"
        self.drawn = drawn


def _data(kind: str, indexes: list[int]) -> list[dict[str, Any]]:
    if kind.startswith("look"):
        return [{"index": index, "finding": "clean", "gap_mm": 0.75} for index in indexes]
    return [{"eye": "left", "layer": "top", "reason": "tea"}]


@pytest.fixture
def small(cast: Cast) -> Bench:
    zones = ("inner", "middle", "outer")
    lengths = {(zone, "top"): 9 for zone in zones}
    return factory.make_bench(cast, zones=zones, layers=("top",), lengths=lengths)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=steps)
def test_no_order_of_events_reaches_a_state_that_is_not_drawn(small: Bench, steps):
    with transaction.atomic():
        history = History(small, factory.open_ready_set(small))
        for step in steps:
            history.step(*step)
        event(f"ended {history.made.state}")
        transaction.set_rollback(True)
    assert not SetEvent.objects.exists(), "the next example begins with an empty bench"


def test_the_straight_way_through_is_among_the_histories(small: Bench):
    history = History(small, factory.open_ready_set(small))
    for kind in (
        "start",
        "pause",
        "resume",
        "split",
        "finish",
        "look all",
        "inspect",
        "sign",
        "again",
        "sign",
    ):
        history.step(kind, timedelta(minutes=40), timedelta(0), 0)
    assert history.made.state == "graded"
