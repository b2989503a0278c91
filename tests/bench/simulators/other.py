"""A school that does not follow the model: written apart from it, to see what it is worth on strange ground.

Quality of work grows along an S-curve in hours of practice to a personal ceiling, and a break takes part of
it away faster than half-lives say. Levels are cut from a continuous impression: each educator has own cut
points (some keep to the middle levels, some use the ends), grows stricter or milder with the months, and
lets the whole of the set colour each mark. Poor work is left unmarked more often. Faults follow a power of
quality, clustered.
"""

import numpy as np
from scipy.special import expit, ndtr
from scipy.stats import binom, gamma

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

NOISE, DAY, TONE = 0.55, 0.22, 0.12
HARDER = np.array([0.0, 0.15, -0.2, 0.0, 0.1, 0.2, -0.15, -0.1, 0.15, -0.15])


def simulate(rng, *, students=1000, sets=12, educators=12, briefs=6, break_chance=0.05):
    day = days_of(rng, students, sets, break_chance=break_chance)
    quality = _quality(rng, day)
    cuts, drift = _cuts(rng, educators), rng.normal(0, 0.25, educators) / 365
    hard = rng.normal(0, 0.2, briefs)
    hard -= hard.mean()
    who, brief = rng.integers(0, educators, (students, sets)), rng.integers(0, briefs, (students, sets))
    start = rng.uniform(0, 365, (students, 1))
    impression = (
        quality + rng.normal(0, DAY * 0.7, (students, sets, 1)) + rng.normal(0, DAY * 0.7, quality.shape)
    )
    base = impression[..., SKILL_OF] - HARDER - hard[brief][..., None]
    seen = base - (drift[who] * (day + start - 365))[..., None] + rng.normal(0, TONE, (students, sets, 1))
    marks = seen + rng.standard_t(6, seen.shape) * NOISE * np.sqrt(4 / 6)
    levels = (marks[..., None] > cuts[who][:, :, None]).sum(axis=-1).astype(np.int8)
    levels[rng.random(levels.shape) < 0.03 + 0.25 * expit(-2.5 * (base - 0.8))] = -1
    faults, inspected = _counts(rng, base)
    levels[..., COUNTED] = banded(faults[..., COUNTED])
    flat = [part.reshape(students * sets, -1) for part in (levels, faults, inspected)]
    student = np.repeat(np.arange(students), sets)
    when = (day.ravel(), who.ravel(), brief.ravel())
    table = MarkTable(students, student, *when, *flat, names("e", educators), names("b", briefs))
    return School(table, _expected(quality, cuts), cuts.mean(axis=1) - cuts.mean())


def _quality(rng, day):
    """(students, sets, skills), on the scale of levels."""
    students, sets = day.shape
    skills = len(SKILLS)
    talent = rng.normal(0, 1, (students, 1))
    floor = 0.7 + 0.35 * talent + rng.normal(0, 0.35, (students, skills))
    ceiling = floor + np.clip(
        rng.normal(2.4, 0.5, (students, 1)) + rng.normal(0, 0.4, (students, skills)), 0.4, None
    )
    middle = np.clip(rng.normal(5, 2, (students, 1)), 1, 12) * rng.uniform(0.7, 1.4, (students, skills))
    rise = rng.uniform(1.2, 2.5, (students, 1))
    hours = np.zeros((students, skills))
    path = []
    for t in range(sets):
        if t:
            idle = np.maximum(day[:, t] - day[:, t - 1] - 21, 0)[:, None]
            stays = np.where(np.array(SKILLS) == "pace", np.exp(-idle / 700), np.exp(-idle / 330))
            hours = hours * stays + rng.gamma(4, 0.25, (students, 1))
        path.append(floor + (ceiling - floor) * expit((hours - middle) / rise))
    return np.stack(path, axis=1)


def _cuts(rng, educators):
    """(educators, 4): where each begins levels 1 to 4."""
    severity, width = rng.normal(0, 0.3, educators), rng.lognormal(0, 0.2, educators)
    cuts = 2 + severity[:, None] + width[:, None] * (np.array([0.5, 1.5, 2.5, 3.5]) - 2)
    return np.sort(cuts + rng.normal(0, 0.12, cuts.shape), axis=1)


def _counts(rng, base):
    faults = np.zeros(base.shape, dtype=np.int16)
    inspected = np.zeros(base.shape, dtype=np.int16)
    share = _share(base[..., COUNTED])
    clustered = np.clip(share * rng.gamma(3, 1 / 3, share.shape), 0, 0.95)
    faults[..., COUNTED] = rng.binomial(INSPECTED, clustered)
    inspected[..., COUNTED] = INSPECTED
    return faults, inspected


def _share(quality):
    return np.clip(0.22 * (1 - np.clip(quality, -1, 4.5) / 5) ** 2.2, 0.002, 0.9)


def _expected(quality, cuts):
    """Averaged over the educators without drift, on the average brief; normal in place of t noise."""
    above = ndtr((quality[..., SKILL_OF, None, None] - HARDER[:, None, None] - cuts) / NOISE)
    by_criterion = above.sum(axis=-1).mean(axis=-1)
    slices = gamma.ppf((np.arange(30) + 0.5) / 30, 3, scale=1 / 3)
    share = _share(quality[..., SKILL_OF[list(COUNTED)]] - HARDER[list(COUNTED)])
    clustered = np.clip(share[..., None] * slices, 0, 0.95)
    by_criterion[..., COUNTED] = sum(binom.cdf(most, INSPECTED, clustered).mean(axis=-1) for most in AT_MOST)
    return np.stack(
        [by_criterion[..., skill == SKILL_OF].mean(axis=-1) for skill in range(len(SKILLS))], axis=-1
    )
