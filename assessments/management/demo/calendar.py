"""Who practises what, when and at which level: the story's chapters laid out on class days. No database."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import exp
from random import Random

from assessments.management.demo.story import Chapter, Pupil

SUNDAY = 6
# Today's sets: how long ago each was opened, and how long ago came its last moment of work.
TODAY = {
    "working": (timedelta(minutes=54), timedelta(minutes=1)),
    "paused": (timedelta(minutes=80), timedelta(minutes=4)),
    "finished": (timedelta(minutes=185), timedelta(minutes=12)),
    "inspected": (timedelta(minutes=260), timedelta(minutes=62)),
}
ABANDONED_AFTER = timedelta(minutes=37)
EARLIER_TODAY = timedelta(hours=6)
_STEEPNESS = 2.5  # the learning curve reaches 92 % of its rise, unscaled, at the end of a chapter


@dataclass(frozen=True, slots=True)
class PlannedSet:
    """``until``: the state in which the set is left; ``ends_at``: when its work ends, if not when it is done.

    ``skills`` are latent levels; a skill not named there has ``level``.
    """

    email: str
    nth: int
    brief: str
    opens_at: datetime
    level: float
    skills: Mapping[str, float]
    until: str = "graded"
    ends_at: datetime | None = None

    def latent(self, skill: str) -> float:
        return self.skills.get(skill, self.level)


def planned_sets(
    pupils: Sequence[Pupil], starts: Mapping[str, time], now: datetime, rng: Random
) -> list[PlannedSet]:
    """Every set of every pupil, earliest first; ``now`` in the academy's time zone."""
    plans = [plan for pupil in pupils for plan in _of_pupil(pupil, starts[pupil.cohort], now, rng)]
    return sorted(plans, key=lambda plan: (plan.opens_at, plan.email))


def growth(nth: int, sets: int) -> float:
    """Share of a chapter's change reached at its n-th set, 0 to 1: steep first, then flat."""
    return 1.0 if sets == 1 else (1 - exp(-_STEEPNESS * nth / (sets - 1))) / (1 - exp(-_STEEPNESS))


def _of_pupil(pupil: Pupil, starts: time, now: datetime, rng: Random) -> Iterator[PlannedSet]:
    done = 0
    for chapter in pupil.chapters:
        for nth, day in enumerate(_days(chapter, now.date(), rng)):
            opens_at = _opening(day, starts, now, rng)
            yield _plan(pupil, chapter, nth, done + nth, opens_at)
        done += chapter.sets
    if pupil.abandoned_days_ago:
        opens_at = _opening(now.date() - timedelta(days=pupil.abandoned_days_ago), starts, now, rng)
        yield _left_open(pupil, done, opens_at, "abandoned", opens_at + ABANDONED_AFTER)
    if pupil.now:
        opened, ended = TODAY[pupil.now]
        yield _left_open(pupil, done + 1, now - opened, pupil.now, now - ended)


def _left_open(pupil: Pupil, nth: int, opens_at: datetime, until: str, ends_at: datetime) -> PlannedSet:
    last = pupil.chapters[-1]
    skills = {code: end for code, (_, end) in last.skills.items()}
    brief = pupil.now_brief or last.briefs[0]
    return PlannedSet(pupil.email, nth, brief, opens_at, last.level[1], skills, until, ends_at)


def _plan(pupil: Pupil, chapter: Chapter, nth: int, overall: int, opens_at: datetime) -> PlannedSet:
    reached = growth(nth, chapter.sets)

    def between(ends: tuple[float, float]) -> float:
        return ends[0] + reached * (ends[1] - ends[0])

    return PlannedSet(
        email=pupil.email,
        nth=overall,
        brief=chapter.briefs[nth % len(chapter.briefs)],
        opens_at=opens_at,
        level=between(chapter.level),
        skills={code: between(ends) for code, ends in chapter.skills.items()},
    )


def _days(chapter: Chapter, today: date, rng: Random) -> list[date]:
    """Evenly spread with a day's play, never two on one day, never on a Sunday unless it is today."""
    span, last = chapter.from_day - chapter.to_day, chapter.sets - 1
    days: list[date] = []
    for nth in range(chapter.sets):
        ago = chapter.from_day - round(span * nth / max(last, 1))
        play = rng.choice((-1, 0, 0, 1)) if 0 < nth < last else 0
        day = today - timedelta(days=ago + play)
        days.append(day - timedelta(days=1) if day.weekday() == SUNDAY and ago else day)
    return days


def _opening(day: date, starts: time, now: datetime, rng: Random) -> datetime:
    if day == now.date():
        return now - EARLIER_TODAY
    return datetime.combine(day, starts, now.tzinfo) + timedelta(minutes=rng.randrange(0, 25))
