"""Practice sets that have gone through every step at the bench, through the services and no other way."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from academy.errors import DomainError
from academy.models import Membership
from assessments.models import Grade, Position, PracticeSet
from assessments.scoring.entry import MarkEntry
from assessments.services.marking import sign_marks
from assessments.services.sets import BenchEvent, EventResult, Setup, apply_events, open_set
from tests.factories.academy import Cast
from tests.factories.assessments import CONDITIONS, SEED, STARTED, Bench, make_entry
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric

WORKED = timedelta(minutes=240)
Finding = Mapping[str, Any]


def make_bench(cast: Cast, student: Membership | None = None, *, head: str = "Head 1", **brief: Any) -> Bench:
    """Ines at the bench with Ada (or ``student``), the starter rubric, a brief and a free head."""
    starter_rubric(cast.academy, cast.owner)
    name = brief.pop("name", f"Soft volume on {head}")
    version = make_brief(cast.academy, cast.owner, name=name, **brief)
    return Bench(student or cast.ada, cast.ines, version, make_head(cast.academy, head))


def setup_of(bench: Bench, **changes: Any) -> Setup:
    keys = {"student_id": bench.student.pk, "brief_id": bench.brief.brief_id, "head_id": bench.head.pk}
    return Setup(**{**keys, "conditions": CONDITIONS, **changes})


def open_ready_set(bench: Bench, *, at: datetime = STARTED, uid: UUID | None = None) -> PracticeSet:
    return open_set(actor=bench.educator, setup=setup_of(bench), uid=uid or uuid4(), now=at)


def working_set(bench: Bench, *, at: datetime = STARTED) -> PracticeSet:
    made = open_ready_set(bench, at=at)
    happens(bench, made, [event("start", at)], now=at)
    return made


def finished_set(bench: Bench, *, at: datetime = STARTED, worked: timedelta = WORKED) -> PracticeSet:
    """Started at ``at`` and worked through without a pause."""
    made = working_set(bench, at=at)
    happens(bench, made, [event("finish", at + worked)], now=at + worked)
    return made


def inspected_set(
    bench: Bench,
    *,
    at: datetime = STARTED,
    worked: timedelta = WORKED,
    found: Mapping[int, Finding] | None = None,
) -> PracticeSet:
    """Every position clean with a gap of 0.75 mm and 4° where measured, save those in ``found`` by index."""
    made = finished_set(bench, at=at, worked=worked)
    now = at + worked + timedelta(minutes=20)
    looks = [event("position", now, **{**clean(position), **(found or {}).get(position.index, {})})
             for position in positions_of(made)]  # fmt: skip
    happens(bench, made, [*looks, event("inspect", now)], now=now)
    return made


def graded_set(
    bench: Bench, *, at: datetime = STARTED, entry: MarkEntry | None = None, **inspected: Any
) -> Grade:
    made = inspected_set(bench, at=at, **inspected)
    now = at + inspected.get("worked", WORKED) + timedelta(minutes=30)
    return sign_marks(
        actor=bench.educator, uid=made.uid, entry=entry or make_entry(), event_uid=uuid4(), now=now
    )


def event(kind: str, at: datetime | None = None, uid: UUID | None = None, **data: Any) -> BenchEvent:
    return BenchEvent(uid or uuid4(), kind, at, data)


def apply(
    bench: Bench, made: PracticeSet, events: Sequence[BenchEvent], *, now: datetime, seed: int = SEED
) -> list[EventResult]:
    """The results, with ``made`` read again."""
    results = apply_events(actor=bench.educator, uid=made.uid, events=events, seed=seed, now=now)
    made.refresh_from_db()
    return results


def happens(bench: Bench, made: PracticeSet, events: Sequence[BenchEvent], *, now: datetime) -> None:
    """As ``apply``, and nothing of it may be refused."""
    refused = [result.problem for result in apply(bench, made, events, now=now) if result.status != "applied"]
    assert not refused, refused


def why(result: EventResult) -> DomainError:
    """What a refused event was refused with."""
    assert result.status == "refused" and result.problem is not None, result
    return result.problem


def positions_of(made: PracticeSet) -> list[Position]:
    """As they stand in the database now."""
    return list(Position.objects.filter(inspection__practice_set=made).prefetch_related("faults"))


def clean(position: Position) -> dict[str, Any]:
    """A clean finding, measured where the draw asks for it."""
    return {
        "index": position.index,
        "finding": "clean",
        "gap_mm": 0.75 if position.wants_gap else None,
        "direction_deg": 4 if position.wants_direction else None,
    }


def faulty(*codes: str) -> Finding:
    return {"finding": "faulty", "faults": list(codes)}


BARE: Finding = {"finding": "bare", "gap_mm": None, "direction_deg": None}
