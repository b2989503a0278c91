"""How a student's set time falls with practice: a curve from few sets, helped by what other students did."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, log2, sqrt

import numpy as np
import numpy.typing as npt
import scipy as sp  # loads `special` at first use

from assessments.skill.interface import FEW_SETS, NO_DATA, OK, SkillInputError

FloatArray = npt.NDArray[np.float64]

COLD, LEARNED = "cold", "learned"

_STUDENTS_NEEDED, _SETS_NEEDED = 30, 15
_CLIP = 3.0  # residuals count no farther than this many standard deviations
_NOISE_SETS = 12.0  # how many sets the scatter known from other students is worth
_LEAST_VARIANCE = 1e-4  # of coefficients, and of ln time: nobody repeats a set to within 1 %
_EM_ROUNDS = 25


@dataclass(frozen=True, slots=True)
class TimePrior:
    """What students of one brief family do: curve coefficients ~ N(`mean`, `covariance`), scatter `noise`.

    Basis (1, ln n, (ln n)^2) for the natural logarithm of seconds; `noise` is a standard deviation of it.
    Learned on another family it gives too narrow intervals (the bench shows how much): use the cold one then.
    """

    mean: FloatArray
    covariance: FloatArray
    noise: float
    source: str


@dataclass(frozen=True, slots=True)
class TimeFit:
    """Posterior of the coefficients of ln seconds, with `noise` and its degrees of `freedom`.

    `clipped`: sets whose time lies beyond 3 standard deviations and counts only as far as that. With fewer
    than 3 sets the status is no_data and the curve is that of the group.
    """

    mean: FloatArray
    covariance: FloatArray
    noise: float
    freedom: float
    sets: int
    clipped: int
    status: str
    words: str

    def median_s(self, numbers: npt.ArrayLike) -> FloatArray:
        """Median time of set number n, 1.., in seconds."""
        return np.asarray(np.exp(basis(np.asarray(numbers, dtype=float)) @ self.mean))

    def interval_s(
        self, numbers: npt.ArrayLike, *, confidence: float = 0.90, of_a_set: bool = False
    ) -> tuple[FloatArray, FloatArray]:
        """Where the median time of set n lies, or with `of_a_set` the time of one set; seconds."""
        if not 0 < confidence < 1:
            raise SkillInputError("confidence_out_of_range", "Give a confidence between 0 and 1.")
        rows = basis(np.asarray(numbers, dtype=float))
        spread_sq = np.einsum("ij,jk,ik->i", rows, self.covariance, rows) + of_a_set * self.noise**2
        half = float(sp.special.stdtrit(self.freedom, (1 + confidence) / 2)) * np.sqrt(spread_sq)
        return np.exp(rows @ self.mean - half), np.exp(rows @ self.mean + half)


def basis(numbers: FloatArray) -> FloatArray:
    logs = np.log(numbers)
    return np.column_stack([np.ones_like(logs), logs, logs**2])


def cold_prior(first_s: float) -> TimePrior:
    """Before 30 students have 15 timed sets: an 80 % curve from a first time in seconds. Guide, not measured.

    -0.322 = log2(0.80): each doubling of practice takes off a fifth (T. P. Wright, Journal of the
    Aeronautical Sciences 3 (1936) 122-128, in Crawford's unit form).
    """
    _check_times([first_s])
    return TimePrior(np.array([log(first_s), log2(0.80), 0.0]), np.diag([0.35, 0.15, 0.04]) ** 2, 0.15, COLD)


def prior_from_population(
    students: Sequence[tuple[Sequence[int], Sequence[float]]], *, first_s: float
) -> TimePrior:
    """Learn the prior from (set numbers, seconds) of students of one brief family.

    Those with 15 timed sets or more count; with fewer than 30 of them it is `cold_prior(first_s)`. Moments
    first (P. A. V. B. Swamy, Econometrica 38 (1970) 311-323), then EM (N. M. Laird and J. H. Ware, Biometrics
    38 (1982) 963-974), which weighs each student by what the sets tell. Eigenvalues stay above 1e-4.
    """
    long = [(numbers, seconds) for numbers, seconds in students if len(seconds) >= _SETS_NEEDED]
    for numbers, seconds in long:
        _check_sets(numbers, seconds)
    if len(long) < _STUDENTS_NEEDED:
        return cold_prior(first_s)
    rows = [basis(np.asarray(numbers, dtype=float)) for numbers, _ in long]
    logs = [np.log(np.asarray(seconds, dtype=float)) for _, seconds in long]
    gram = np.array([x.T @ x for x in rows])
    moment = np.array([x.T @ y for x, y in zip(rows, logs, strict=True)])
    square = np.array([y @ y for y in logs])
    sets = np.array([y.size for y in logs])
    return _learned(gram, moment, square, sets)


def fit_time_curve(numbers: Sequence[int], seconds: Sequence[float], prior: TimePrior) -> TimeFit:
    """Posterior of one student's curve; `numbers` count every practice set from 1, timed or not.

    Conjugate normal update (A. Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 14.8). A second
    pass pulls times beyond 3 standard deviations in to 3 and lets the student's own scatter speak, worth as
    many sets as there are against 12 for the prior's. Raises SkillInputError for times or numbers that
    cannot be.
    """
    _check_sets(numbers, seconds)
    rows, logs = basis(np.asarray(numbers, dtype=float)), np.log(np.asarray(seconds, dtype=float))
    mean, covariance = _posterior(rows, logs, prior, prior.noise)
    apart = (logs - rows @ mean) / prior.noise
    clipped = int((np.abs(apart) > _CLIP).sum())
    logs = logs - (apart - np.clip(apart, -_CLIP, _CLIP)) * prior.noise
    noise, freedom = _own_noise(rows, logs, mean, prior)
    mean, covariance = _posterior(rows, logs, prior, noise)
    enough = len(logs) >= FEW_SETS
    words = (
        f"From {len(logs)} timed sets."
        if enough
        else "Too few timed sets for a personal forecast; group curve shown."
    )
    return TimeFit(mean, covariance, noise, freedom, len(logs), clipped, OK if enough else NO_DATA, words)


@dataclass(frozen=True, slots=True)
class WrightCurve:
    """Unit form: `unit[i]` is the time of set i + 1 and `cumulative[i]` of all sets so far, first set = 1."""

    unit: FloatArray
    cumulative: FloatArray


def wright_curve(rate: float, sets: int) -> WrightCurve:
    """The n-th set takes n^log2(`rate`) of the first: each doubling multiplies the time by `rate`.

    `rate` above 0, up to 1. Crawford's unit form, not Wright's cumulative average of 1936.
    """
    if not 0 < rate <= 1:
        raise SkillInputError("rate_out_of_range", f"The rate is {rate:g}. Give a share above 0, up to 1.")
    if sets < 1:
        raise SkillInputError("no_sets", "A curve needs at least one set.")
    unit = np.arange(1.0, sets + 1) ** log2(rate)
    return WrightCurve(unit, np.cumsum(unit))


def _posterior(
    rows: FloatArray, logs: FloatArray, prior: TimePrior, noise: float
) -> tuple[FloatArray, FloatArray]:
    precision = np.linalg.inv(prior.covariance)
    covariance = np.asarray(np.linalg.inv(precision + rows.T @ rows / noise**2), dtype=np.float64)
    return covariance @ (precision @ prior.mean + rows.T @ logs / noise**2), covariance


def _own_noise(rows: FloatArray, logs: FloatArray, mean: FloatArray, prior: TimePrior) -> tuple[float, float]:
    """(scatter, degrees of freedom): the prior's scatter drawn towards the student's own."""
    precision = np.linalg.inv(prior.covariance) * prior.noise**2
    gram = rows.T @ rows
    spent = float(np.trace(np.linalg.solve(gram + precision, gram)))
    own = max(len(logs) - spent, 0.0)
    squares = float(((logs - rows @ mean) ** 2).sum())
    return sqrt((_NOISE_SETS * prior.noise**2 + squares) / (_NOISE_SETS + own)), _NOISE_SETS + own


def _learned(gram: FloatArray, moment: FloatArray, square: FloatArray, sets: FloatArray) -> TimePrior:
    inverse = np.linalg.inv(gram)
    own = np.einsum("ijk,ik->ij", inverse, moment)
    left = float((square - np.einsum("ij,ij->i", own, moment)).sum())
    noise_sq = max(left / float((sets - gram.shape[1]).sum()), _LEAST_VARIANCE)
    mean = own.mean(axis=0)
    covariance = _floored(np.cov(own.T) - noise_sq * inverse.mean(axis=0))
    for _ in range(_EM_ROUNDS):
        precision = np.linalg.inv(covariance)
        spread = np.linalg.inv(precision + gram / noise_sq)
        own = np.einsum("ijk,ik->ij", spread, precision @ mean + moment / noise_sq)
        mean = own.mean(axis=0)
        away = own - mean
        covariance = _floored((away.T @ away) / len(own) + spread.mean(axis=0))
        squares = square - 2 * np.einsum("ij,ij->i", own, moment) + np.einsum("ij,ijk,ik->i", own, gram, own)
        left = float((squares + np.einsum("ijk,ikj->i", gram, spread)).sum())
        noise_sq = max(left / float(sets.sum()), _LEAST_VARIANCE)
    return TimePrior(mean, covariance, sqrt(noise_sq), LEARNED)


def _floored(covariance: FloatArray) -> FloatArray:
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray((vectors * np.maximum(values, _LEAST_VARIANCE)) @ vectors.T)


def _check_sets(numbers: Sequence[int], seconds: Sequence[float]) -> None:
    if len(numbers) != len(seconds):
        raise SkillInputError("times_of_different_length", "Every timed set needs its number and its time.")
    if any(number < 1 for number in numbers) or len(set(numbers)) < len(numbers):
        raise SkillInputError("bad_set_number", "Set numbers count from 1, each once. Correct the number.")
    _check_times(seconds)


def _check_times(seconds: Sequence[float]) -> None:
    for time in seconds:
        if not 0 < time < float("inf"):
            raise SkillInputError(
                "non_positive_time", f"A time of {time:g} s cannot be. Enter a time above zero."
            )
