"""The climb against the likelihood it should climb, written out set by set, and against quadrature."""

import numpy as np
import pytest
from scipy.special import logsumexp

from assessments.scoring.facet_newton import PRIOR_SD, START_STEPS, Shape, places, settle
from assessments.scoring.facet_tables import gathered

EDUCATORS, CRITERIA = 3, 2
SHAPE = Shape(EDUCATORS, CRITERIA)


@pytest.fixture(scope="module")
def rows():
    """60 sets, most cells marked: columns work, educator, criterion, level."""
    rng = np.random.default_rng(3)
    ability, severity, difficulty = rng.normal(0, 1.2, 60), (-0.5, 0.1, 0.4), (-0.3, 0.3)
    found = []
    for work, educator, criterion in np.ndindex(60, EDUCATORS, CRITERIA):
        if rng.random() < 0.85:
            eta = ability[work] - severity[educator] - difficulty[criterion]
            weight = np.exp(np.arange(5) * eta - np.concatenate([[0], np.cumsum(START_STEPS)]))
            found.append((work, educator, criterion, rng.choice(5, p=weight / weight.sum())))
    return np.array(found)


@pytest.fixture(scope="module")
def fitted(rows):
    work, educator, criterion, level = rows.T
    cell = educator * CRITERIA + criterion
    tables = gathered(work, cell, level, criteria=CRITERIA, cells=EDUCATORS * CRITERIA, levels=5)
    return tables, settle(tables, SHAPE)


def log_chance(rows, theta, beta):
    """log P of each mark; `theta` may have a trailing axis of nodes."""
    severity, difficulty, steps = SHAPE.split(beta)
    eta = theta - (severity[rows[:, 1]] + difficulty[rows[:, 2]])[:, None]
    weight = eta[..., None] * np.arange(5) - np.concatenate([[0], np.cumsum(steps)])
    return np.take_along_axis(weight, rows[:, 3][:, None, None], 2)[..., 0] - logsumexp(weight, axis=2)


def by_quadrature(rows, beta, mean, spread, nodes=61):
    """Log marginal likelihood by Gauss-Hermite quadrature, with the prior on beta."""
    place, weight = np.polynomial.hermite_e.hermegauss(nodes)
    of_mark = log_chance(rows, mean + spread * place, beta)
    sums = np.zeros((rows[:, 0].max() + 1, nodes))
    np.add.at(sums, rows[:, 0], of_mark)
    return logsumexp(sums, axis=1, b=weight / weight.sum()).sum() + log_prior(beta)


def by_laplace(rows, beta, mean, spread):
    """The same by Laplace's method: for each set its mode by Newton steps, and the curvature there."""
    work, height = rows[:, 0], np.arange(5)
    severity, difficulty, steps = SHAPE.split(beta)
    shift, drop = severity[rows[:, 1]] + difficulty[rows[:, 2]], np.concatenate([[0], np.cumsum(steps)])
    theta = np.zeros(work.max() + 1)
    for _ in range(40):
        weight = np.outer(theta[work] - shift, height) - drop
        chance = np.exp(weight - logsumexp(weight, axis=1, keepdims=True))
        expected = chance @ height
        curvature = np.bincount(work, chance @ height**2 - expected**2) + 1 / spread**2
        theta += (np.bincount(work, rows[:, 3] - expected) - (theta - mean) / spread**2) / curvature
    at_mode = log_chance(rows, theta[work][:, None], beta).sum() - ((theta - mean) ** 2).sum() / 2 / spread**2
    return at_mode - np.log(curvature).sum() / 2 + log_prior(beta)


def log_prior(beta):
    start = np.concatenate([np.zeros(EDUCATORS + CRITERIA), START_STEPS - START_STEPS.mean()])
    return -((beta - start) ** 2).sum() / (2 * PRIOR_SD**2)


def slope(likelihood, rows, fit, size=1e-3):
    """Numerical gradient along the directions in which each kind of parameter keeps its sum."""
    kinds = np.repeat(np.arange(3), [EDUCATORS, CRITERIA, 4])
    free = np.eye(SHAPE.size) - (kinds[:, None] == kinds) / np.bincount(kinds)[kinds][:, None]
    return np.array(
        [
            (
                likelihood(rows, fit.beta + size * step, fit.mean, fit.spread)
                - likelihood(rows, fit.beta - size * step, fit.mean, fit.spread)
            )
            / (2 * size)
            for step in free
        ]
    )


def test_the_climb_ends_where_the_laplace_likelihood_is_flat(rows, fitted):
    _, fit = fitted
    assert np.abs(slope(by_laplace, rows, fit)).max() < 0.01
    assert fit.rounds < 40


def test_the_end_is_within_a_fifth_of_a_standard_error_of_full_marginal_likelihood(rows, fitted):
    _, fit = fitted
    away = fit.covariance @ slope(by_quadrature, rows, fit)
    assert np.abs(away / np.sqrt(np.diag(fit.covariance))).max() < 0.2


def test_the_covariance_is_the_inverse_curvature_of_the_marginal_likelihood(rows, fitted):
    _, fit = fitted
    direction = np.zeros(SHAPE.size)
    direction[:2] = 1, -1
    ends = [by_quadrature(rows, fit.beta + k * 0.05 * direction, fit.mean, fit.spread) for k in (-1, 0, 1)]
    curvature = -(ends[0] - 2 * ends[1] + ends[2]) / 0.05**2
    # Along one direction the information is that of the contrast with all else held.
    info = np.linalg.pinv(fit.covariance, rcond=1e-9)
    assert direction @ info @ direction == pytest.approx(curvature, rel=0.05)


def test_each_kind_of_parameter_sums_to_zero(fitted):
    _, fit = fitted
    for part in SHAPE.split(fit.beta):
        assert part.sum() == pytest.approx(0, abs=1e-9)


def test_places_subtract_severity_and_difficulty_from_the_set(fitted):
    tables, fit = fitted
    severity, difficulty, _ = SHAPE.split(fit.beta)
    for pair in (0, 5, 17):
        want = (
            fit.theta[tables.group[pair]]
            - severity[tables.educator[pair]]
            - difficulty[tables.criterion[pair]]
        )
        assert places(tables, SHAPE, fit)[pair] == pytest.approx(want)
