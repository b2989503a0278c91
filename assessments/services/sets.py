from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import asdict, dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction

from academy.errors import Conflict, DomainError, NotHere
from academy.models import Academy, Membership, Role
from academy.selectors.people import member
from academy.services.audit import record
from assessments.models import PracticeSet, SetEvent
from assessments.scoring.conditions import Conditions, check_opened
from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.sampling import EYES
from assessments.scoring.timing import (
    Event,
    EventKind,
    NotAllowed,
    SetState,
    TimingError,
    next_state,
    read_clock,
)
from assessments.selectors import sets
from assessments.selectors.rubrics import rubric_for
from assessments.services import inspections
from courses.models import BriefVersion, Head, SetBrief
from courses.selectors.briefs import brief as brief_here
from courses.selectors.briefs import newest_version, target_minutes

CLOCK_TOLERANCE = timedelta(seconds=30)
CLOCK = ("state", "started_at", "finished_at", "worked_s")
OLDEST_EVENT = timedelta(hours=48)
KINDS = {*(kind.value for kind in EventKind), "position"}


class SetAlreadyOpen(Conflict):
    def __init__(self, open_set: PracticeSet) -> None:
        super().__init__(
            "set_already_open",
            f"This student's set {open_set.number} is still under way. Finish or abandon it first.",
            field="student",
        )


class HeadInUse(Conflict):
    def __init__(self, open_set: PracticeSet) -> None:
        waits = "kept for a blind second look" if open_set.state == "graded" else "not yet inspected"
        super().__init__(
            "head_in_use",
            f"This head carries set {open_set.number} of {open_set.student.name}, {waits}. Choose another.",
            field="head",
        )


class FormUsed(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "form_used",
            "This form has already opened a set. Open the page for a new set and fill it in there.",
        )


class SentElsewhere(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "sent_elsewhere",
            "This was sent for another set at the same moment. Reload the page to see what is kept here.",
        )


class EventRefused(DomainError):
    """The event does not fit; nothing was changed."""


class ClockWrong(EventRefused):
    def __init__(self, one: str, at: datetime, other: str, then: datetime, zone: ZoneInfo) -> None:
        shown = "%d %B %H:%M"
        super().__init__(
            "clock_wrong",
            f"{one} {at.astimezone(zone):{shown}}, {other} {then.astimezone(zone):{shown}}. "
            "Set the clock of the device; what is older than two days is not taken.",
        )


@dataclass(frozen=True, slots=True)
class Setup:
    """What the educator picks before a set: keys of rows in her academy, and the day's conditions."""

    student_id: int
    brief_id: int
    head_id: int
    conditions: Conditions


@dataclass(frozen=True, slots=True)
class BenchEvent:
    """One thing that happened at the bench, as a device reports it; ``uid`` is made there.

    ``unreadable`` is what the door could not make sense of: the event is refused with it.
    """

    uid: UUID
    kind: str
    at: datetime | None = None  # None: the instant it arrives
    data: Mapping[str, object] = field(default_factory=dict)
    unreadable: str = ""


@dataclass(frozen=True, slots=True)
class EventResult:
    uid: UUID
    status: str  # applied, repeated or refused
    problem: DomainError | None = None


@transaction.atomic
def open_set(*, actor: Membership, setup: Setup, uid: UUID, now: datetime) -> PracticeSet:
    """A ready set; asked twice with the same ``uid`` it answers the set it made the first time."""
    academy = actor.academy
    _hold(academy, setup)
    if made := PracticeSet.objects.filter(uid=uid).first():
        return _opened_before(made, academy, setup)
    student = member(academy, setup.student_id, Role.STUDENT)
    head = _head(academy, setup.head_id)
    _check_free(student, head)
    _check_conditions(setup.conditions, academy.date_of(now))
    version = _version_in_use(brief_here(academy, setup.brief_id))
    practice_set = _made(
        uid=uid,
        academy=academy,
        student=student,
        opened_by=actor,
        brief=version,
        head=head,
        rubric=rubric_for(version.brief),
        number=sets.newest_number(student) + 1,
        target_s=60 * target_minutes(version, sets.sets_on_brief(student, version.brief) + 1),
        strip_fitted_on=head.strip_fitted_on,
        created_at=now,
        **asdict(setup.conditions),
    )
    after = {"student": student.pk, "head": head.pk, "brief": version.pk}
    record(actor, "open_set", practice_set, now=now, after=after)
    return practice_set


def _made(**columns: Any) -> PracticeSet:
    try:
        with transaction.atomic():
            return PracticeSet.objects.create(**columns)
    except IntegrityError as error:  # the form opened another set after we looked
        raise FormUsed from error


def _hold(academy: Academy, setup: Setup) -> None:
    """Queue behind anyone who opens a set for the same student or on the same head."""
    list(Membership.objects.select_for_update().filter(academy=academy, pk=setup.student_id))
    list(Head.objects.select_for_update().filter(academy=academy, pk=setup.head_id))


def _opened_before(made: PracticeSet, academy: Academy, setup: Setup) -> PracticeSet:
    """The set that this form made: only if it still says the same, for a person may have gone back in it."""
    if (made.academy_id, made.student_id, made.head_id) != (academy.pk, setup.student_id, setup.head_id):
        raise FormUsed
    return made


def _head(academy: Academy, head_id: int) -> Head:
    head = Head.objects.filter(academy=academy, pk=head_id).first()
    if head is None:
        raise NotHere("head")
    return head


def _check_free(student: Membership, head: Head) -> None:
    if head.retired_at is not None:
        raise DomainError("head_retired", f"{head.name} has been retired. Choose another head.", field="head")
    if open_set := sets.open_set_of(student):
        raise SetAlreadyOpen(open_set)
    if carried := sets.set_on_head(head):
        raise HeadInUse(carried)


def _version_in_use(brief: SetBrief) -> BriefVersion:
    if brief.retired_at is not None:
        message = f"{brief.name} has been retired. Choose another brief."
        raise DomainError("brief_retired", message, field="brief")
    return newest_version(brief)


def _check_conditions(conditions: Conditions, today: date) -> None:
    try:
        check_opened(conditions, today=today)
    except ScoringInputError as problem:
        raise DomainError(problem.code, problem.message, field=problem.code) from problem


@transaction.atomic
def apply_events(
    *, actor: Membership, uid: UUID, events: Sequence[BenchEvent], seed: int, now: datetime
) -> list[EventResult]:
    """Apply events in order under a lock; each stands or falls alone, and a repeat changes nothing.

    ``seed`` is used if one of them finishes the set, to draw the positions that will be inspected.
    Raises SentElsewhere, with nothing applied, when one arrives for another set at the same instant.
    """
    practice_set = sets.locked_set(actor.academy, uid)
    known = dict(
        SetEvent.objects.filter(uid__in=[e.uid for e in events]).values_list("uid", "practice_set_id")
    )
    bench = _Bench(practice_set, actor, seed, now)
    results = []
    for event in events:
        if event.uid in known:
            results.append(_repeated(event, known[event.uid], practice_set))
            continue
        known[event.uid] = practice_set.pk
        results.append(_apply_alone(bench, event))
    bench.write()
    return results


class _Bench:
    """One set while it is held: what is read once for many events, and the events recorded so far."""

    def __init__(self, practice_set: PracticeSet, actor: Membership, seed: int, now: datetime) -> None:
        self.practice_set, self.actor, self.seed, self.now = practice_set, actor, seed, now
        self.sheet = inspections.Sheet(practice_set)
        self.recorded: list[SetEvent] = []

    @cached_property
    def past(self) -> list[SetEvent]:
        """Events of earlier calls that the clock is read from."""
        return list(self.practice_set.events.filter(kind__in=sets.TIMING))

    def write(self) -> None:
        self.sheet.write()
        _keep(self.recorded)
        if any(row.kind in sets.TIMING for row in self.recorded):
            self.practice_set.save(update_fields=CLOCK)


def _keep(events: Sequence[SetEvent]) -> None:
    try:
        with transaction.atomic():
            SetEvent.objects.bulk_create(events)
    except IntegrityError as error:  # another set took a uid after we looked
        raise SentElsewhere from error


def _repeated(event: BenchEvent, owner_id: int, practice_set: PracticeSet) -> EventResult:
    if owner_id == practice_set.pk:
        return EventResult(event.uid, "repeated")
    elsewhere = EventRefused("event_elsewhere", "This was already recorded on another set. Reload the page.")
    return EventResult(event.uid, "refused", elsewhere)


def _apply_alone(bench: _Bench, event: BenchEvent) -> EventResult:
    # All else is checked before it is noted, so that refusing it leaves nothing to undo in the database.
    undo = transaction.atomic() if event.kind in AFTER else nullcontext()
    if event.kind in AFTER:
        bench.sheet.write()
    before = {name: getattr(bench.practice_set, name) for name in CLOCK}
    try:
        with undo:
            _apply(bench, event)
    except DomainError as problem:
        for name, value in before.items():
            setattr(bench.practice_set, name, value)
        return EventResult(event.uid, "refused", problem)
    return EventResult(event.uid, "applied")


def _apply(bench: _Bench, event: BenchEvent) -> None:
    _check_readable(event)
    at = _instant(bench.practice_set, event, bench.now, ZoneInfo(bench.actor.academy.time_zone))
    if event.kind == "position":
        inspections.record_finding(
            practice_set=bench.practice_set, data=event.data, now=bench.now, sheet=bench.sheet
        )
    else:
        _advance(bench, EventKind(event.kind), event, at)
    if event.kind in AFTER:
        AFTER[event.kind](bench, event)
    bench.recorded.append(_row(bench, event, at))


def _row(bench: _Bench, event: BenchEvent, at: datetime) -> SetEvent:
    return SetEvent(
        practice_set=bench.practice_set,
        uid=event.uid,
        kind=event.kind,
        at=at,
        received_at=bench.now,
        actor=bench.actor,
        data=dict(event.data),
    )


def _check_readable(event: BenchEvent) -> None:
    if event.unreadable:
        raise EventRefused("bad_event", event.unreadable)
    if event.kind not in KINDS:
        raise EventRefused("bad_event", "The bench does not know this step. Reload the page.")


def _instant(practice_set: PracticeSet, event: BenchEvent, now: datetime, zone: ZoneInfo) -> datetime:
    """The instant that counts, told in the academy's zone: the device's, unless it cannot be right."""
    at, opened = event.at or now, practice_set.created_at
    if not now - OLDEST_EVENT <= at <= now + CLOCK_TOLERANCE:
        raise ClockWrong("This device says", at, "the server", now, zone)
    if at < opened - CLOCK_TOLERANCE:
        raise ClockWrong("This device says", at, "but the set was opened on", opened, zone)
    return min(max(at, opened), now).astimezone(zone)


def _advance(bench: _Bench, kind: EventKind, event: BenchEvent, at: datetime) -> None:
    practice_set = bench.practice_set
    if kind == EventKind.GRADE:
        raise EventRefused("sign_on_the_page", "Marks are signed on the marks page.")
    if kind == EventKind.SPLIT:
        _check_split(practice_set, event)
    try:
        practice_set.state = next_state(SetState(practice_set.state), kind).value
        clock = read_clock(_timeline(bench, event, at), now=at)
    except TimingError as problem:
        code = "not_now" if isinstance(problem, NotAllowed) else problem.code
        raise EventRefused(code, problem.message) from problem
    practice_set.started_at, practice_set.finished_at = clock.started_at, clock.finished_at
    if clock.finished_at is not None:
        practice_set.worked_s = clock.worked_s


def _check_split(practice_set: PracticeSet, event: BenchEvent) -> None:
    if event.data.get("eye") not in EYES or event.data.get("layer") not in practice_set.brief.layers:
        raise EventRefused("bad_split", "Say which eye and which layer of this brief is done.")


def _timeline(bench: _Bench, event: BenchEvent, at: datetime) -> list[Event]:
    timed = [row for row in bench.recorded if row.kind in sets.TIMING]
    return sets.timing_events([*bench.past, *timed, _row(bench, event, at)])


def _after_finish(bench: _Bench, event: BenchEvent) -> None:
    inspections.draw_inspection(
        practice_set=bench.practice_set, inspector=bench.actor, seed=bench.seed, now=bench.now
    )


def _after_inspect(bench: _Bench, event: BenchEvent) -> None:
    inspections.close_inspection(practice_set=bench.practice_set, inspector=bench.actor, now=bench.now)


def _after_abandon(bench: _Bench, event: BenchEvent) -> None:
    reason = str(event.data.get("reason", "")).strip()
    if not reason:
        raise EventRefused("no_reason", "Say in a few words why the set is abandoned.")
    record(bench.actor, "abandon_set", bench.practice_set, now=bench.now, reason=reason)


After = Callable[[_Bench, BenchEvent], None]
AFTER: dict[str, After] = {
    EventKind.FINISH: _after_finish,
    EventKind.INSPECT: _after_inspect,
    EventKind.ABANDON: _after_abandon,
}
