"""Students, educators and marks drawn from the model's own form: what it should do best."""

import numpy as np
from scipy.stats import betabinom

from assessments.skill.parameters import Dynamics
from assessments.skill.table import MarkTable
from tests.bench.simulators.school import (
    AT_MOST,
    COUNTED,
    INSPECTED,
    SKILL_OF,
    SKILLS,
    School,
    banded,
    days_of,
    names,
)

TAU = np.array([-2.1, -0.5, 0.7, 1.9])
TRUE = Dynamics(
    start=-1.3, start_common=0.7, start_own=0.35, step_common=0.015, step_own=0.02,
    day_common=0.08, day_own=0.08, gain=1.0, gain_variance=0.12,
)  # fmt: skip
COUNT_BASE, COUNT_SLOPE, COUNT_RHO = -2.6, 0.7, 0.03
BETA = np.array([0.0, 0.3, -0.4, 0.0, 0.2, 0.5, -0.3, -0.3, 0.3, -0.3])


def simulate(rng, *, students=1000, sets=12, educators=12, briefs=6, break_chance=0.03):
    severity = _centred(rng.normal(0, 0.5, educators))
    difficulty = _centred(rng.normal(0, 0.35, briefs))
    day = days_of(rng, students, sets, break_chance=break_chance)
    theta = _abilities(rng, day)
    educator = rng.integers(0, educators, (students, sets))
    brief = rng.integers(0, briefs, (students, sets))
    on_day = theta + rng.normal(0, TRUE.day_common**0.5, (students, sets, 1))
    on_day = on_day + rng.normal(0, TRUE.day_own**0.5, theta.shape)
    eta = on_day[..., SKILL_OF] - (severity[educator] + difficulty[brief])[..., None]
    levels = _levels(rng, eta - BETA)
    levels[rng.random(levels.shape) < 0.08] = -1
    faults, inspected = _counts(rng, eta)
    levels[..., COUNTED] = banded(faults[..., COUNTED])
    student = np.repeat(np.arange(students), sets)
    flat = [part.reshape(students * sets, -1) for part in (levels, faults, inspected)]
    table = MarkTable(
        students, student, day.ravel(), educator.ravel(), brief.ravel(), *flat,
        names("e", educators), names("b", briefs),
    )  # fmt: skip
    return School(table, _expected(theta), severity)


def _centred(values):
    return values - values.mean()


def _abilities(rng, day):
    students, sets = day.shape
    skills = len(SKILLS)

    def drawn(common, own):
        shape = (students, skills)
        return rng.normal(0, 1, (students, 1)) * np.sqrt(common) + rng.normal(0, 1, shape) * np.sqrt(own)

    theta = TRUE.start + drawn(TRUE.start_common, TRUE.start_own)
    slope = rng.normal(TRUE.gain, TRUE.gain_variance**0.5, (students, 1))
    half_life = np.array(
        [TRUE.fade_days_speed if code == "pace" else TRUE.fade_days_accuracy for code in SKILLS]
    )
    path = [theta]
    for t in range(1, sets):
        idle = (day[:, t] - day[:, t - 1])[:, None]
        loss = np.maximum(theta - TRUE.start, 0) * (1 - 0.5 ** (idle / half_life))
        loss = loss * (1 + TRUE.fade_spread * rng.normal(0, 1, (students, 1)))
        growth = np.log((t + TRUE.practice) / (t - 1 + TRUE.practice))
        wander = drawn(TRUE.step_common, TRUE.step_own) + np.sqrt(idle) * drawn(
            TRUE.idle_common, TRUE.idle_own
        )
        theta = theta - loss + slope * growth + wander
        path.append(theta)
    return np.stack(path, axis=1)


def _chances(eta):
    odds = np.exp(eta[..., None] * np.arange(5) - np.concatenate([[0], np.cumsum(TAU)]))
    return odds / odds.sum(axis=-1, keepdims=True)


def _levels(rng, eta):
    below = _chances(eta).cumsum(axis=-1)[..., :4]
    return (rng.random(eta.shape)[..., None] > below).sum(axis=-1).astype(np.int8)


def _counts(rng, eta):
    faults = np.zeros(eta.shape, dtype=np.int16)
    inspected = np.zeros(eta.shape, dtype=np.int16)
    share = 1 / (1 + np.exp(COUNT_SLOPE * eta[..., COUNTED] - COUNT_BASE))
    whole = 1 / COUNT_RHO - 1
    drawn = rng.beta(share * whole, (1 - share) * whole)
    faults[..., COUNTED] = rng.binomial(INSPECTED, drawn)
    inspected[..., COUNTED] = INSPECTED
    return faults, inspected


def _expected(theta):
    by_criterion = _chances(theta[..., SKILL_OF] - BETA) @ np.arange(5)
    share = 1 / (1 + np.exp(COUNT_SLOPE * theta[..., SKILL_OF[list(COUNTED)]] - COUNT_BASE))
    whole = 1 / COUNT_RHO - 1
    within = betabinom.cdf(
        np.array(AT_MOST), INSPECTED, (share * whole)[..., None], ((1 - share) * whole)[..., None]
    )
    by_criterion[..., COUNTED] = within.sum(axis=-1)
    return np.stack(
        [by_criterion[..., skill == SKILL_OF].mean(axis=-1) for skill in range(len(SKILLS))], axis=-1
    )
