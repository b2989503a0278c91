"""The marginal likelihood of the facet model, climbed by Newton steps with the sets profiled out."""

from dataclasses import dataclass, replace

import numpy as np
import scipy as sp  # loads `special` at first use

from assessments.scoring.facet_tables import FloatArray, Moments, Tables, moments

START_STEPS = np.array([-1.90, -0.65, 0.60, 1.95])
PRIOR_SD = 2.0  # logits; weak, but an educator who gives one level only stays at a finite place

_MOST_ROUNDS, _SETTLED = 60, 1e-5
_LONGEST_STEP = 1.5
_LEAST_SPREAD = 0.05


@dataclass(frozen=True, slots=True)
class Estimates:
    """Logits. `beta`: severities, difficulties and steps one after another, each kind with sum 0.

    By group of sets: mode `theta`, posterior `work_mean` and `work_sd`. Prior of sets: N(`mean`, `spread`^2).
    """

    beta: FloatArray
    covariance: FloatArray
    theta: FloatArray
    work_mean: FloatArray
    work_sd: FloatArray
    mean: float
    spread: float
    rounds: int


@dataclass(frozen=True, slots=True)
class Shape:
    educators: int
    criteria: int

    @property
    def size(self) -> int:
        return self.educators + self.criteria + START_STEPS.size

    def split(self, beta: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """(severities, difficulties, steps)."""
        end = self.educators + self.criteria
        return beta[: self.educators], beta[self.educators : end], beta[end:]


def settle(tables: Tables, shape: Shape) -> Estimates:
    """Step until nothing moves by more than 1e-5 logits; at most 60 rounds, in practice about ten.

    The gradient is that of the log marginal likelihood by Laplace's method including the determinant: with
    v the posterior variance of a set, V and k3 second and third central moments, the residual of a mark is
    y - E - v k3 / 2 + v^2 V sum(k3) / 2, likewise for the steps. Mean and spread of the sets follow by EM.
    """
    now = _start(tables, shape)
    prior = now.beta
    for _ in range(_MOST_ROUNDS):
        after = _round(tables, shape, now, prior)
        moved = max(_largest(after.beta - now.beta), _largest(after.theta - now.theta))
        now = after
        if moved < _SETTLED:
            break
    return now


def places(tables: Tables, shape: Shape, estimates: Estimates) -> FloatArray:
    """Where each pair stands on the scale of its educator and criterion, logits."""
    severity, difficulty, _ = shape.split(estimates.beta)
    return np.asarray(
        estimates.theta[tables.group] - severity[tables.educator] - difficulty[tables.criterion]
    )


def _start(tables: Tables, shape: Shape) -> Estimates:
    beta = np.zeros(shape.size)
    beta[-START_STEPS.size :] = START_STEPS - START_STEPS.mean()
    theta = sp.special.logit(0.05 + 0.9 * tables.share)
    one = np.ones_like(theta)
    return Estimates(beta, np.zeros((shape.size, shape.size)), theta, theta, one, 0.0, 1.0, 0)


def _round(tables: Tables, shape: Shape, now: Estimates, prior: FloatArray) -> Estimates:
    """One Newton step for everything, and one EM step for the prior of the sets."""
    found = moments(places(tables, shape, now), shape.split(now.beta)[2])
    groups, precision = tables.times.size, 1 / now.spread**2
    sd_sq = 1 / (np.bincount(tables.group, found.variance, groups) + precision)
    third = np.asarray(np.bincount(tables.group, found.third, groups), dtype=np.float64)
    pull = _work_gradient(tables, found, now)
    gradient = _gradient(tables, shape, found, sd_sq, third) - (now.beta - prior) / PRIOR_SD**2
    cross = _cross(tables, shape, found)
    step, covariance = _constrained(
        _information(tables, shape, found) - (cross * (tables.times * sd_sq)[:, None]).T @ cross,
        gradient,
        shape,
    )
    theta = now.theta + np.clip(sd_sq * (pull + cross @ step), -_LONGEST_STEP, _LONGEST_STEP)
    moved = replace(now, beta=now.beta + step, covariance=covariance, theta=theta, rounds=now.rounds + 1)
    return _with_prior(moved, tables.times, theta - sd_sq**2 * third / 2, sd_sq)


def _with_prior(now: Estimates, times: FloatArray, work_mean: FloatArray, sd_sq: FloatArray) -> Estimates:
    share = times / times.sum()
    mean = float(share @ work_mean)
    spread = np.sqrt(max(float(share @ ((work_mean - mean) ** 2 + sd_sq)), _LEAST_SPREAD**2))
    return replace(now, work_mean=work_mean, work_sd=np.sqrt(sd_sq), mean=mean, spread=float(spread))


def _work_gradient(tables: Tables, found: Moments, now: Estimates) -> FloatArray:
    """Of one set in each group, at its mode."""
    surplus = tables.total / tables.weight - found.mean
    return np.asarray(
        np.bincount(tables.group, surplus, now.theta.size) - (now.theta - now.mean) / now.spread**2
    )


def _gradient(
    tables: Tables, shape: Shape, found: Moments, sd_sq: FloatArray, third: FloatArray
) -> FloatArray:
    # Sums over pairs of weight, weight v / 2 and weight v^2 sum(k3) / 2, each against its own moment.
    half, bend = (sd_sq / 2)[tables.group], (sd_sq**2 * third / 2)[tables.group]
    level = tables.total - tables.weight * (found.mean + half * found.third - bend * found.variance)
    expected = (
        found.above @ tables.weight
        + found.above_third @ (tables.weight * half)
        - found.above_cov @ (tables.weight * bend)
    )
    return -np.concatenate(
        [
            np.bincount(tables.educator, level, shape.educators),
            np.bincount(tables.criterion, level, shape.criteria),
            tables.reached - expected,
        ]
    )


def _cross(tables: Tables, shape: Shape, found: Moments) -> FloatArray:
    """[group, parameter]: how each set's sum of levels and each parameter depend on one another."""
    groups = tables.times.size
    by_educator = np.bincount(
        tables.group * shape.educators + tables.educator, found.variance, groups * shape.educators
    )
    by_criterion = np.bincount(
        tables.group * shape.criteria + tables.criterion, found.variance, groups * shape.criteria
    )
    steps = [np.bincount(tables.group, column, groups) for column in found.above_cov]
    return np.column_stack([by_educator.reshape(groups, -1), by_criterion.reshape(groups, -1), *steps])


def _information(tables: Tables, shape: Shape, found: Moments) -> FloatArray:
    """Of all parameters with the sets known, and the prior."""
    times, end = tables.weight, shape.educators + shape.criteria
    cell, cells = tables.educator * shape.criteria + tables.criterion, shape.educators * shape.criteria
    both = np.bincount(cell, times * found.variance, cells).reshape(shape.educators, shape.criteria)
    info = np.zeros((shape.size, shape.size))
    info[: shape.educators, shape.educators : end] = both
    for place, column in enumerate(found.above_cov):
        table = np.bincount(cell, times * column, cells).reshape(both.shape)
        info[:end, end + place] = np.concatenate([table.sum(axis=1), table.sum(axis=0)])
    info += info.T
    info[np.arange(end), np.arange(end)] = np.concatenate([both.sum(axis=1), both.sum(axis=0)])
    higher = np.maximum.outer(np.arange(START_STEPS.size), np.arange(START_STEPS.size))
    info[end:, end:] = (found.above @ times)[higher] - (found.above * times) @ found.above.T
    return np.asarray(info + np.eye(shape.size) / PRIOR_SD**2)


def _constrained(info: FloatArray, gradient: FloatArray, shape: Shape) -> tuple[FloatArray, FloatArray]:
    """(step, covariance) with severities, difficulties and steps each summing to 0."""
    kinds = np.repeat(np.arange(3), [shape.educators, shape.criteria, START_STEPS.size])
    free = np.eye(shape.size) - (kinds[:, None] == kinds) / np.bincount(kinds)[kinds][:, None]
    covariance = np.linalg.pinv(free @ info @ free, rcond=1e-12, hermitian=True)
    return np.clip(covariance @ gradient, -_LONGEST_STEP, _LONGEST_STEP), covariance


def _largest(change: FloatArray) -> float:
    return float(np.abs(change).max(initial=0.0))
