"""How many sets more until a student's median time reaches the target, with a range."""

from dataclasses import dataclass
from math import log

import numpy as np
import scipy as sp  # loads `special` at first use

from assessments.skill.interface import NO_DATA, OK, SkillInputError
from assessments.skill.time_curve import FloatArray, TimeFit, basis

REACHED, NOT_FALLING, NOT_EXPECTED = "reached", "not_falling", "not_expected"

_DRAWS = 500


@dataclass(frozen=True, slots=True)
class Forecast:
    """Sets still needed at 10, 50 and 90 % of the possible curves; None beyond `horizon` sets or without a
    forecast. `chance`: of reaching the target within them. `words` end with those about the fault rate."""

    target_s: float
    horizon: int
    q10: int | None
    q50: int | None
    q90: int | None
    chance: float | None
    status: str
    words: str


def sets_needed(
    fit: TimeFit,
    *,
    target_s: float,
    sets_so_far: int,
    fault_words: str,
    rng: np.random.Generator,
    horizon: int = 200,
) -> Forecast:
    """Forecast from posterior draws of the curve, each made non-increasing: nobody unlearns by practising.

    `target_s`: wanted median set time in seconds. `fault_words`: the sentence about the fault rate, which
    must stand beside any time, as a fast hand that leaves stickies is not ready; refused without it.
    """
    _check(target_s, sets_so_far, fault_words, horizon)
    if fit.status == NO_DATA:
        return _without(target_s, horizon, NO_DATA, f"{fit.words} {fault_words}")
    reach = _first_at_target(fit, log(target_s), sets_so_far, horizon, rng.standard_normal((_DRAWS, 3)))
    chance = float((reach <= horizon).mean())
    ends = tuple(int(end) for end in np.quantile(reach, [0.1, 0.5, 0.9], method="inverted_cdf"))
    q10, q50, q90 = (None if end > horizon else end for end in ends)
    if q50 != 0 and _chance_not_falling(fit, max(sets_so_far, 1)) > 0.5:
        return _without(target_s, horizon, NOT_FALLING, f"Times are not falling; no forecast. {fault_words}")
    status, words = _verdict((q10, q50, q90), f"{target_s / 60:.0f} minutes", horizon)
    return Forecast(target_s, horizon, q10, q50, q90, chance, status, f"{words} {fault_words}")


def _first_at_target(
    fit: TimeFit, target: float, sets_so_far: int, horizon: int, normal: FloatArray
) -> FloatArray:
    """Sets more for each draw; `horizon` + 1 when not reached."""
    values, vectors = np.linalg.eigh(fit.covariance)
    draws = fit.mean + normal @ (vectors * np.sqrt(np.maximum(values, 0))).T
    curves = draws @ basis(np.arange(1.0, max(sets_so_far, 1) + horizon + 1)).T
    below = np.minimum.accumulate(curves, axis=1)[:, max(sets_so_far, 1) - 1 :] <= target
    return np.asarray(np.where(below.any(axis=1), below.argmax(axis=1), horizon + 1))


def _chance_not_falling(fit: TimeFit, number: int) -> float:
    """That twice the practice brings no shorter time."""
    step = np.subtract(*basis(np.array([2.0 * number, float(number)])))
    return float(sp.special.ndtr(step @ fit.mean / np.sqrt(step @ fit.covariance @ step)))


def _verdict(ends: tuple[int | None, int | None, int | None], target: str, horizon: int) -> tuple[str, str]:
    low, middle, high = ends
    if middle is None:
        return NOT_EXPECTED, f"Target not expected within {horizon} more sets."
    if middle == 0:
        return REACHED, f"The target of {target} is reached."
    return OK, f"About {_more(middle)} to a usual time of {target} {_range(low, high, horizon)}."


def _more(sets: int) -> str:
    return "1 more set" if sets == 1 else f"{sets} more sets"


def _range(low: int | None, high: int | None, horizon: int) -> str:
    if high is None:
        return f"(80 % range {low} to more than {horizon})"
    return f"(80 % range {low} to {high})"


def _without(target_s: float, horizon: int, status: str, words: str) -> Forecast:
    return Forecast(target_s, horizon, None, None, None, None, status, words)


def _check(target_s: float, sets_so_far: int, fault_words: str, horizon: int) -> None:
    if not 0 < target_s < float("inf"):
        raise SkillInputError("non_positive_time", "The target time must be above zero. Correct the brief.")
    if sets_so_far < 0 or horizon < 1:
        raise SkillInputError("bad_set_number", "Give the sets done so far and a horizon of 1 set or more.")
    if not fault_words.strip():
        raise SkillInputError(
            "no_fault_rate", "A time is never shown without the fault rate. Give its sentence too."
        )
