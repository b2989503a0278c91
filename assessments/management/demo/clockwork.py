"""When things happened during a set: start, splits, pauses and finish, as instants. No database, no clock."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random

from assessments.scoring.sampling import EYES
from assessments.scoring.timing import EventKind


@dataclass(frozen=True, slots=True)
class Moment:
    kind: EventKind
    at: datetime
    data: dict[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Pause:
    """``after_s``: seconds worked when it began."""

    after_s: float
    lasts: timedelta
    reason: str


def pauses(worked_s: float, reasons: Sequence[str], rng: Random) -> list[Pause]:
    """One for about each 80 minutes of work."""
    count = round(worked_s / 4800)
    return sorted(
        (
            Pause(
                worked_s * rng.uniform(nth + 0.3, nth + 0.8) / count,
                timedelta(minutes=rng.randrange(3, 9)),
                rng.choice(reasons),
            )
            for nth in range(count)
        ),
        key=lambda pause: pause.after_s,
    )


def moments(
    start: datetime, worked_s: float, layers: Sequence[str], breaks: Sequence[Pause], rng: Random
) -> list[Moment]:
    """A whole set: the bottom layer of each eye first, a split after each layer, then the finish."""
    places = [(eye, layer) for eye in EYES for layer in reversed(layers)]
    shares = [rng.uniform(0.85, 1.15) for _ in places]
    found = [Moment(EventKind.START, start)]
    for nth, (eye, layer) in enumerate(places, 1):
        worked = worked_s * sum(shares[:nth]) / sum(shares)
        at = start + _elapsed(worked, breaks)
        found.append(Moment(EventKind.SPLIT, at, {"eye": eye, "layer": layer}))
    for nth, pause in enumerate(breaks):
        began = start + timedelta(seconds=pause.after_s) + _paused(breaks[:nth])
        found.append(Moment(EventKind.PAUSE, began, {"reason": pause.reason}))
        found.append(Moment(EventKind.RESUME, began + pause.lasts))
    finish = Moment(EventKind.FINISH, start + _elapsed(worked_s, breaks))
    return [*sorted(found, key=lambda moment: moment.at), finish]


def _elapsed(worked_s: float, breaks: Sequence[Pause]) -> timedelta:
    """Time on the wall after ``worked_s`` of work."""
    return timedelta(seconds=worked_s) + _paused([pause for pause in breaks if pause.after_s < worked_s])


def _paused(breaks: Sequence[Pause]) -> timedelta:
    return sum((pause.lasts for pause in breaks), timedelta())
