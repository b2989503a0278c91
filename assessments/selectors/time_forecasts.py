"""How a student's set time falls on each brief, and how many sets it may still take to the target."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import Count, Q

from academy.models import Membership
from assessments.models import ParameterVersion, Position
from assessments.scoring.wording import percent
from assessments.selectors.set_times import BriefTimes, times_of
from assessments.skill.interface import FEW_SETS
from assessments.skill.time_curve import LEARNED, TimeFit, TimePrior, cold_prior, fit_time_curve
from assessments.skill.time_forecast import Forecast, sets_needed
from courses.models import StageTarget

AT_FAULT = (Position.Finding.FAULTY, Position.Finding.BARE)
LATEST_SETS = 3
SHOWN_SETS, FEWEST_AHEAD, MOST_AHEAD = 20, 3, 12
_DRAWS_SEED = 5  # of the posterior draws: the same times give the same forecast
_MINUTE = 60


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One set number: minutes worked, None ahead of the last set, and what the curve says, in minutes."""

    number: int
    worked: float | None
    usual: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class TimeForecast:
    """One brief: the curve over the latest sets and a few ahead; ``forecast.words`` tell the faults too."""

    name: str
    sets: int
    target_min: int
    forecast: Forecast
    points: tuple[CurvePoint, ...]


def time_forecasts(student: Membership, version: ParameterVersion | None) -> tuple[TimeForecast, ...]:
    """Of every brief with 3 timed sets or more; three queries, one when there is none."""
    times = [each for each in times_of(student) if len(each.sets) >= FEW_SETS]
    if not times:
        return ()
    targets = _targets([each.brief for each in times])
    places = _places([pk for each in times for pk in each.sets[-LATEST_SETS:]])
    return tuple(_forecast(each, targets[each.brief], places, version) for each in times)


def _forecast(
    times: BriefTimes,
    targets: tuple[int, int],
    places: dict[int, tuple[int, int]],
    version: ParameterVersion | None,
) -> TimeForecast:
    first_min, target_min = targets
    fit = fit_time_curve(times.numbers, times.seconds, _prior(times.brief, first_min, version))
    forecast = sets_needed(
        fit,
        target_s=target_min * _MINUTE,
        sets_so_far=len(times.sets),
        fault_words=_fault_words([places[pk] for pk in times.sets[-LATEST_SETS:] if pk in places]),
        rng=np.random.default_rng(_DRAWS_SEED),
    )
    return TimeForecast(times.name, len(times.sets), target_min, forecast, _points(times, fit, forecast))


def _points(times: BriefTimes, fit: TimeFit, forecast: Forecast) -> tuple[CurvePoint, ...]:
    done = len(times.sets)
    ahead = min(MOST_AHEAD, max(FEWEST_AHEAD, forecast.q50 or 0))
    numbers = np.arange(max(1, done - SHOWN_SETS + 1), done + ahead + 1)
    low, high = fit.interval_s(numbers)
    rows = zip(numbers.tolist(), fit.median_s(numbers), low, high, strict=True)
    return tuple(
        CurvePoint(
            number,
            times.seconds[number - 1] / _MINUTE if number <= done else None,
            *(float(seconds) / _MINUTE for seconds in curve),
        )
        for number, *curve in rows
    )


def _prior(brief: int, first_min: int, version: ParameterVersion | None) -> TimePrior:
    learned: dict[str, Any] | None = version.time_priors.get(str(brief)) if version else None
    if learned is None:
        return cold_prior(first_min * _MINUTE)
    mean, covariance = np.array(learned["mean"]), np.array(learned["covariance"])
    return TimePrior(mean, covariance, learned["noise"], LEARNED)


def _targets(briefs: Collection[int]) -> dict[int, tuple[int, int]]:
    """(minutes for a first set, minutes in the end) by the newest version of each brief; one query."""
    rows = StageTarget.objects.filter(version__brief__in=briefs).order_by("version__number", "from_set")
    found: dict[tuple[int, int], list[int]] = {}
    for brief, number, minutes in rows.values_list("version__brief", "version__number", "minutes"):
        found.setdefault((brief, number), []).append(minutes)
    return {brief: (minutes[0], minutes[-1]) for (brief, _), minutes in found.items()}


def _places(sets: Collection[int]) -> dict[int, tuple[int, int]]:
    """(places at fault, places looked at) of each set's first inspection; one query."""
    rows = Position.objects.filter(
        inspection__practice_set__in=sets, inspection__is_blind=False, inspection__closed_at__isnull=False
    ).order_by()
    counted = rows.values_list("inspection__practice_set").annotate(
        faulty=Count("pk", filter=Q(finding__in=AT_FAULT)), looked=Count("pk")
    )
    return {pk: (faulty, looked) for pk, faulty, looked in counted}


def _fault_words(places: Sequence[tuple[int, int]]) -> str:
    faulty, looked = (sum(column) for column in zip(*places, strict=True)) if places else (0, 0)
    if not looked:
        return "No set on this brief is inspected yet, so nothing is known about faults beside the time."
    sets = "latest set" if len(places) == 1 else f"latest {len(places)} sets"
    share = percent(faulty / looked)
    return f"Beside it: {faulty} of {looked} places looked at in the {sets} had a fault ({share})."
