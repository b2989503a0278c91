"""A skill model for one skill at a time: recent sets count most, and the interval stays honest."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from math import isfinite, sqrt

import scipy as sp  # loads `special` at first use

from assessments.skill.interface import (
    AT_CEILING,
    FEW_SETS,
    OK,
    PROVISIONAL,
    TOP_LEVEL,
    Observation,
    SkillEstimate,
    SkillHistory,
    SkillInputError,
    no_estimate,
)


@dataclass(frozen=True, slots=True)
class _Belief:
    """Normal-inverse-gamma belief: level ~ t(``freedom``) about ``level``, scale ``spread_sq / information``.

    ``information``: how many sets the level rests on; ``spread_sq``: set-to-set variance in levels squared.
    """

    level: float
    information: float
    spread_sq: float
    freedom: float


@dataclass(frozen=True, slots=True)
class RecencyModel:
    """Recency-weighted level with a Student-t interval.

    Each set's marks are averaged by criterion weight to y, and the belief (m, K, s2, v) is updated by
        K <- K / 2^(1/half_life_sets + idle days/half_life_days)       older sets fade
        q = K / (K + 1),  e = y - m
        s2 <- (v s2 + q e^2) / (v + 1),  v <- v + 1                     set-to-set variance
        m <- m + e / (K + 1),  K <- K + 1
    and the 90 % interval is m +- t(0.95; v) sqrt(max(s2, floor^2) / K), cut to the scale, with K faded once
    more by the days since the last set. This is the local-level dynamic linear model with a discount factor
    and unknown constant observation variance: West and Harrison, Bayesian Forecasting and Dynamic Models,
    2nd ed. 1997, sections 4.5 and 6.3. Without fading it is the ordinary normal-inverse-gamma posterior of
    Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 3.3. (Section numbers from memory.)

    Because m moves to a point between itself and y, a mark at or above the estimate never lowers it. The
    level lags a student who is learning fast, and does not fall with idle days: only the interval widens.

    Defaults, chosen on simulated students (see the tests), not on real marks:
    - ``half_life_sets``: sets after which a mark counts half.
    - ``half_life_days``: idle days after which all marks count half; the 90 days after which
      gate skills are checked again before live work.
    - ``prior_level``, ``prior_sets``: where a beginner stands, and how many sets that opinion is worth.
    - ``prior_spread``, ``prior_freedom``: set-to-set standard deviation in levels expected before any
      mark, and how many sets that opinion is worth.
    - ``spread_floor``: never believe a smaller one; rounding to whole levels alone makes 1/sqrt(12) = 0.289.
    """

    half_life_sets: float = 2.0
    half_life_days: float = 90.0
    prior_level: float = 1.5
    prior_sets: float = 0.5
    prior_spread: float = 0.55
    prior_freedom: float = 3.0
    spread_floor: float = 0.3

    @property
    def version(self) -> str:
        return "recency-1"

    def __post_init__(self) -> None:
        if not 0 <= self.prior_level <= TOP_LEVEL:
            raise SkillInputError("bad_setting", "The prior level must lie from 0 to 4. Correct the setting.")
        lengths = (self.half_life_sets, self.half_life_days, self.prior_sets, self.prior_spread)
        if not all(value > 0 for value in (*lengths, self.prior_freedom, self.spread_floor)):
            raise SkillInputError(
                "bad_setting",
                "Half-lives, prior weights and spreads must be more than 0. Correct the setting.",
            )

    def estimate(self, history: SkillHistory, *, day: float) -> SkillEstimate:
        """Expected level on ``day`` with its 90 % interval, levels 0 to 4.

        Raises SkillInputError when a mark lies after ``day``. No marks is an answer, not an error.
        """
        sets = _set_levels(history.observations)
        if not isfinite(day):
            raise SkillInputError("bad_day", "The day to estimate for is not a valid date. Give a date.")
        if not sets:
            return no_estimate(history.skill)
        if sets[-1][0] > day:
            raise SkillInputError(
                "mark_after_day", "A mark lies after the day asked for. Ask for a later day, or leave it out."
            )
        belief = self._belief(sets, day)
        low, high = self._interval(belief)
        status = _status([level for _, level in sets])
        words = _words(belief.level, low, high, len(sets), status)
        return SkillEstimate(history.skill, belief.level, low, high, len(sets), status, words)

    def _belief(self, sets: Sequence[tuple[float, float]], day: float) -> _Belief:
        belief = _Belief(self.prior_level, self.prior_sets, self.prior_spread**2, self.prior_freedom)
        last_day = sets[0][0]
        for set_day, level in sets:
            belief = _updated(self._faded(belief, 1 / self.half_life_sets, set_day - last_day), level)
            last_day = set_day
        return self._faded(belief, 0.0, day - last_day)

    def _faded(self, belief: _Belief, half_lives: float, idle_days: float) -> _Belief:
        information = belief.information * 0.5 ** (half_lives + idle_days / self.half_life_days)
        return _Belief(belief.level, information, belief.spread_sq, belief.freedom)

    def _interval(self, belief: _Belief) -> tuple[float, float]:
        spread_sq = max(belief.spread_sq, self.spread_floor**2)
        if belief.information <= 0:  # idle for so long that the weight has underflowed
            return 0.0, float(TOP_LEVEL)
        half = float(sp.special.stdtrit(belief.freedom, 0.95)) * sqrt(spread_sq / belief.information)
        return max(0.0, belief.level - half), min(float(TOP_LEVEL), belief.level + half)


def _updated(belief: _Belief, level: float) -> _Belief:
    information = belief.information + 1
    error = level - belief.level
    surprise = belief.information / information * error**2
    freedom = belief.freedom + 1
    return _Belief(
        level=belief.level + error / information,
        information=information,
        spread_sq=(belief.freedom * belief.spread_sq + surprise) / freedom,
        freedom=freedom,
    )


def _set_levels(observations: Sequence[Observation]) -> list[tuple[float, float]]:
    """(day, weighted mean level) of each set, oldest first; its criteria together are one piece of news."""
    by_day = groupby(sorted(observations, key=lambda mark: mark.day), key=lambda mark: mark.day)
    return [(day, _mean_level(list(marks))) for day, marks in by_day]


def _mean_level(marks: Sequence[Observation]) -> float:
    return sum(mark.weight * mark.level for mark in marks) / sum(mark.weight for mark in marks)


def _status(levels: Sequence[float]) -> str:
    if len(levels) < FEW_SETS:
        return PROVISIONAL
    return AT_CEILING if min(levels) >= TOP_LEVEL else OK


def _words(level: float, low: float, high: float, sets: int, status: str) -> str:
    graded = "1 graded set" if sets == 1 else f"{sets} graded sets"
    figure = f"About {level:.1f} of 4, with 90 % confidence between {low:.1f} and {high:.1f}, from {graded}"
    if status == PROVISIONAL:
        return f"{figure}; provisional, because fewer than {FEW_SETS} sets are graded."
    if status == AT_CEILING:
        return f"{figure}; every mark is 4, so these sets cannot show how much higher the skill goes."
    return f"{figure}."
