"""Practice sets that have been opened, worked, inspected and signed, through the services."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

from academy.models import Academy, Membership
from assessments.models import Grade, Position, PracticeSet
from assessments.scoring.conditions import Conditions
from assessments.scoring.entry import MarkEntry
from assessments.services.inspections import record_finding
from assessments.services.marking import sign_marks
from assessments.services.sets import BenchEvent, EventResult, Setup, apply_events, open_set
from courses.models import BriefVersion, Head

STARTED = datetime(2026, 2, 2, 9, 0, tzinfo=UTC)
SEED = 20_260_202
CONDITIONS = Conditions(
    adhesive_lot="K-2201",
    adhesive_opened_on=date(2026, 1, 26),
    adhesive_days=28,
    room_c=Decimal("21.0"),
    room_rh=50,
)
# What a person has to look at herself on the starter rubric; the rest is proposed from the inspection.
JUDGED = {"product": 3, "layers": 3}


@dataclass(frozen=True, slots=True)
class Bench:
    """Who works on what: a student and an educator of one academy, a brief and a free head."""

    student: Membership
    educator: Membership
    brief: BriefVersion
    head: Head

    @property
    def academy(self) -> Academy:
        return self.student.academy


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the inspection finds: fault codes by position index, bare positions; the rest is clean."""

    faults: Mapping[int, Sequence[str]] = field(default_factory=dict)
    bare: Sequence[int] = ()
    gap_mm: Decimal = Decimal("0.75")
    direction_deg: int = 4


def make_open_set(bench: Bench, *, at: datetime = STARTED) -> PracticeSet:
    """Ready at the bench, not started."""
    setup = Setup(bench.student.pk, bench.brief.brief_id, bench.head.pk, CONDITIONS)
    return open_set(actor=bench.educator, setup=setup, uid=uuid4(), now=at)


def make_started_set(bench: Bench, *, at: datetime = STARTED) -> PracticeSet:
    made = make_open_set(bench, at=at)
    happen(bench, made, at, "start")
    return made


def make_finished_set(bench: Bench, *, at: datetime = STARTED, minutes: int = 240) -> PracticeSet:
    """Worked through one layer after the other, with one pause of 10 minutes after the first hour."""
    made = make_started_set(bench, at=at)
    pause = at + timedelta(minutes=60)
    happen(bench, made, pause, "pause", reason="break")
    happen(bench, made, pause + timedelta(minutes=10), "resume")
    end = at + timedelta(minutes=minutes + 10)
    happen(bench, made, end - timedelta(minutes=30), "split", eye="right", layer="top")
    happen(bench, made, end, "finish")
    made.refresh_from_db()
    return made


def make_inspected_set(
    bench: Bench, *, at: datetime = STARTED, minutes: int = 240, outcome: Outcome | None = None
) -> PracticeSet:
    made = make_finished_set(bench, at=at, minutes=minutes)
    seen_at = at + timedelta(minutes=minutes + 20)
    _inspect(made, outcome or Outcome(), seen_at)
    happen(bench, made, seen_at, "inspect")
    made.refresh_from_db()
    return made


def make_graded_set(
    bench: Bench,
    *,
    at: datetime = STARTED,
    minutes: int = 240,
    outcome: Outcome | None = None,
    entry: MarkEntry | None = None,
) -> Grade:
    """Signed half an hour after the finish; by default nothing is faulty and a drill of 20 is set."""
    made = make_inspected_set(bench, at=at, minutes=minutes, outcome=outcome)
    return sign_marks(
        actor=bench.educator,
        uid=made.uid,
        entry=entry or make_entry(),
        event_uid=uuid4(),
        now=at + timedelta(minutes=minutes + 40),
    )


def make_entry(
    *, levels: Mapping[str, int] | None = None, note: str = "", drill: str = "hold-and-check", count: int = 20
) -> MarkEntry:
    """Every hygiene line met and 80 fans an eye; a chosen level is given with a reason."""
    chosen = {**JUDGED, **(levels or {})}
    return MarkEntry(
        lines_missed=(),
        left_count=80,
        right_count=80,
        levels=chosen,
        reasons=dict.fromkeys(levels or {}, "seen at the bench"),
        note=note,
        drill=drill,
        drill_count=count if drill else None,
    )


def happen(bench: Bench, made: PracticeSet, at: datetime, kind: str, **data: object) -> EventResult:
    """One event at the bench, which must not be refused."""
    event = BenchEvent(uuid4(), kind, at, data)
    (result,) = apply_events(actor=bench.educator, uid=made.uid, events=[event], seed=SEED, now=at)
    assert result.status == "applied", result.problem
    return result


def _inspect(made: PracticeSet, outcome: Outcome, at: datetime) -> None:
    """Findings through the service where something was found, the clean ones in one go."""
    positions = Position.objects.filter(inspection__practice_set=made)
    positions.update(finding=Position.Finding.CLEAN, seen_at=at)
    positions.filter(wants_gap=True).update(gap_mm=outcome.gap_mm)
    positions.filter(wants_direction=True).update(direction_deg=outcome.direction_deg)
    for index, codes in outcome.faults.items():
        found = {"index": index, "finding": "faulty", "faults": list(codes)}
        record_finding(practice_set=made, data=found, now=at)
    for index in outcome.bare:
        record_finding(practice_set=made, data={"index": index, "finding": "bare"}, now=at)
