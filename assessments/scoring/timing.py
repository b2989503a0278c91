"""The life of a practice set, and its clock worked out from recorded instants, never from ticks."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from math import isfinite


class SetState(StrEnum):
    READY = "ready"
    WORKING = "working"
    PAUSED = "paused"
    FINISHED = "finished"
    INSPECTED = "inspected"
    GRADED = "graded"
    ABANDONED = "abandoned"


class EventKind(StrEnum):
    START = "start"
    PAUSE = "pause"
    RESUME = "resume"
    SPLIT = "split"
    FINISH = "finish"
    ABANDON = "abandon"
    INSPECT = "inspect"
    GRADE = "grade"


class TimingError(ValueError):
    """A recorded event or duration cannot be right; ``message`` says what to do."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


class NotAllowed(TimingError):
    """The event does not fit the state the set is in."""

    def __init__(self, state: SetState, kind: EventKind, message: str) -> None:
        super().__init__("not_allowed", message)
        self.state = state
        self.kind = kind


class TimeGoesBack(TimingError):
    """An event lies before the one recorded ahead of it."""


class TimeWithoutZone(TimingError):
    """An instant came without a time zone, so it could be hours off."""


@dataclass(frozen=True, slots=True)
class Event:
    kind: EventKind
    at: datetime
    eye: str = ""
    layer: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Split:
    """Seconds worked since the previous split (or the start), and since the start."""

    eye: str
    layer: str
    worked_s: float
    total_s: float


@dataclass(frozen=True, slots=True)
class Clock:
    """The times of a set in seconds; ``running_since``: the start or resume it is still running from."""

    state: SetState
    worked_s: float
    paused_s: float
    started_at: datetime | None
    finished_at: datetime | None
    running_since: datetime | None
    splits: tuple[Split, ...]


_DRAWN = {
    (SetState.READY, EventKind.START): SetState.WORKING,
    (SetState.READY, EventKind.ABANDON): SetState.ABANDONED,
    (SetState.WORKING, EventKind.PAUSE): SetState.PAUSED,
    (SetState.WORKING, EventKind.SPLIT): SetState.WORKING,
    (SetState.WORKING, EventKind.FINISH): SetState.FINISHED,
    (SetState.WORKING, EventKind.ABANDON): SetState.ABANDONED,
    (SetState.PAUSED, EventKind.RESUME): SetState.WORKING,
    (SetState.PAUSED, EventKind.FINISH): SetState.FINISHED,
    (SetState.PAUSED, EventKind.ABANDON): SetState.ABANDONED,
    (SetState.FINISHED, EventKind.INSPECT): SetState.INSPECTED,
    (SetState.FINISHED, EventKind.ABANDON): SetState.ABANDONED,
    (SetState.INSPECTED, EventKind.GRADE): SetState.GRADED,
}

_REFUSALS = {
    SetState.READY: "This set has not started yet. Start it first.",
    SetState.WORKING: "This set is still under way. Finish it first.",
    SetState.PAUSED: "This set is paused. Resume it or finish it first.",
    SetState.FINISHED: "This set is already finished. Inspect it, or start a new set.",
    SetState.INSPECTED: "This set is already finished. Start a new set, or correct the marks.",
    SetState.GRADED: "This set is already finished and graded. Start a new set, or correct the marks.",
    SetState.ABANDONED: "This set was abandoned. Start a new set.",
}

_CLOSER_REFUSALS = {
    (SetState.WORKING, EventKind.START): "This set has already started. Go on with it, or finish it.",
    (SetState.WORKING, EventKind.RESUME): "This set is not paused; its clock is running. Go on with it.",
    (SetState.PAUSED, EventKind.START): "This set has already started. Resume it.",
    (SetState.PAUSED, EventKind.PAUSE): "This set is already paused. Resume it to go on.",
    (SetState.FINISHED, EventKind.GRADE): "This set is not inspected yet. Close the inspection first.",
    (SetState.INSPECTED, EventKind.INSPECT): "This inspection is already closed. Confirm and sign the marks.",
    (SetState.INSPECTED, EventKind.ABANDON): (
        "This set is already inspected and can no longer be abandoned. Confirm and sign the marks."
    ),
}


def next_state(state: SetState, kind: EventKind) -> SetState:
    """The state after an event, or NotAllowed with a sentence to show the educator."""
    following = _DRAWN.get((state, kind))
    if following is None:
        raise NotAllowed(state, kind, _CLOSER_REFUSALS.get((state, kind), _REFUSALS[state]))
    return following


def read_clock(events: Sequence[Event], *, now: datetime) -> Clock:
    """Work out state, worked and paused seconds from a set's events in the order in which they count.

    A set finished while paused has worked up to that pause. A ``now`` before the last event (a server
    clock slightly behind) counts as the instant of that event. Raises NotAllowed, TimeGoesBack or
    TimeWithoutZone; pass instants in the reader's time zone, because messages quote them as given.
    """
    _check_order(events)
    state, worked, paused = SetState.READY, timedelta(), timedelta()
    splits: list[Split] = []
    instants = [_utc(event.at) for event in events] + [_utc(now)]
    for event, (since, until) in zip(events, pairwise(instants), strict=True):
        state = next_state(state, event.kind)
        if event.kind == EventKind.SPLIT:
            splits.append(_split(event, worked, splits))
        stretch = max(until - since, timedelta())
        if state == SetState.WORKING:
            worked += stretch
        elif state == SetState.PAUSED:
            paused += stretch
    return Clock(
        state=state,
        worked_s=worked.total_seconds(),
        paused_s=paused.total_seconds(),
        started_at=_last_instant(events, EventKind.START),
        finished_at=_last_instant(events, EventKind.FINISH),
        running_since=_running_since(events, state),
        splits=tuple(splits),
    )


def pace_s_per_fan(worked_s: float, fans: int) -> float:
    """Seconds of work for each placed fan."""
    if not (isfinite(worked_s) and worked_s >= 0):
        raise TimingError("bad_duration", "The time worked must be zero or more seconds. Check the events.")
    if fans < 1:
        raise TimingError("no_fans", "A pace needs at least one placed fan. Enter how many were placed.")
    return worked_s / fans


def _utc(at: datetime) -> datetime:
    """The instant in UTC: two local times of one zone would subtract as wall clocks, an hour off at DST."""
    if at.utcoffset() is None:
        raise TimeWithoutZone("time_without_zone", f"The time {at:%H:%M} has no time zone. Send it with one.")
    return at.astimezone(UTC)


def _check_order(events: Sequence[Event]) -> None:
    for earlier, later in pairwise(events):
        if _utc(later.at) < _utc(earlier.at):
            raise TimeGoesBack("time_goes_back", _goes_back_message(earlier, later))


def _goes_back_message(earlier: Event, later: Event) -> str:
    late, early = later.at, earlier.at.astimezone(later.at.tzinfo)
    shown = "%H:%M"
    if late.date() != early.date():
        shown = "%d %B %Y, %H:%M"
    elif f"{late:%H:%M}" == f"{early:%H:%M}":
        shown = "%H:%M:%S.%f"
    return (
        f"{later.kind.capitalize()} at {late:{shown}} lies before {earlier.kind} at {early:{shown}}. "
        "Check the clock of this device."
    )


def _split(event: Event, worked: timedelta, before: Sequence[Split]) -> Split:
    total_s = worked.total_seconds()
    return Split(event.eye, event.layer, total_s - (before[-1].total_s if before else 0.0), total_s)


def _last_instant(events: Sequence[Event], *kinds: EventKind) -> datetime | None:
    return next((event.at for event in reversed(events) if event.kind in kinds), None)


def _running_since(events: Sequence[Event], state: SetState) -> datetime | None:
    return _last_instant(events, EventKind.START, EventKind.RESUME) if state == SetState.WORKING else None
