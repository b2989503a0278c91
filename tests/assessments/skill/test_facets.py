import numpy as np
import pytest

from assessments.skill.arrays import parameter_arrays
from assessments.skill.batch import Sweep
from assessments.skill.facets import FacetEquations, centred, solved
from assessments.skill.parameters import Criterion, Dynamics, Parameters, Skill
from assessments.skill.table import MarkTable, panels

PLAIN = Parameters(
    "1",
    (Skill("wrap"), Skill("pace", is_speed=True)),
    (Criterion("w0", "wrap"), Criterion("w1", "wrap"), Criterion("p0", "pace")),
    dynamics=Dynamics(day_common=0.2, day_own=0.1),
)


def small_table(rng, students=5, sets=3):
    size = students * sets
    empty = np.zeros((size, 0), dtype=np.int16)
    levels = rng.integers(0, 5, (size, 3)).astype(np.int8)
    levels[rng.random(levels.shape) < 0.2] = -1
    return MarkTable(
        students, np.repeat(np.arange(students), sets), np.tile(np.arange(sets) * 3.0, students),
        rng.integers(0, 2, size), rng.integers(0, 2, size), levels, empty, empty, ("e0", "e1"), ("b0", "b1"),
    )  # fmt: skip


def equations_of(table, parameters):
    sweep = Sweep(table, parameter_arrays(parameters), np.float64)
    equations = FacetEquations(sweep)
    steps = []
    for panel in panels(table, 64):
        sweep.run(panel, lambda *seen: (equations.watch(*seen), steps.append(seen[2])))
    return equations, steps


def test_the_equations_are_those_of_one_large_regression():
    """Oracle: for one student, the linearised marks as one multivariate normal vector, whose mean is linear
    in the facets; its normal equations X' V^-1 X written out in full (algebra)."""
    table = small_table(np.random.default_rng(2), students=1)
    equations, steps = equations_of(table, PLAIN)
    design, covariance, news = _full_problem(table, steps)
    expected = design.T @ np.linalg.solve(covariance, design)
    assert equations.matrix == pytest.approx(expected, abs=0.02 * np.abs(expected).max())
    assert equations.right == pytest.approx(-design.T @ np.linalg.solve(covariance, news), abs=0.05)


def _full_problem(table, steps):
    """Every mark as z = ability on the day + noise 1/v; columns e0 e1 b0 b1 w0 w1 p0, the five stretches of
    the course, start, gain. Steps 1 and 2 to 3 are the first two stretches."""
    arrays, dynamics = parameter_arrays(PLAIN), PLAIN.dynamics
    kept = [step.kept[:, 0] for step in steps]
    paths = _prior_paths(arrays, dynamics, kept, [step.growth for step in steps])
    rows, news, noise, places = [], [], [], []
    for t, step in enumerate(steps):
        on_day = step.on_day[:, 0]
        for criterion, skill in enumerate(arrays.skill_of):
            level = table.levels[t, criterion]
            if level < 0:
                continue
            odds = np.array(arrays.weights) * np.exp(on_day[skill] * np.arange(5))
            odds /= odds.sum()
            mean = odds @ np.arange(5)
            spread = odds @ np.arange(5) ** 2 - mean**2
            row = np.zeros(14)
            row[[table.educator[t], 2 + table.brief[t], 4 + criterion]] = 1
            row[7:9] = -paths["course"][t, :, skill]
            row[12:] = -paths["start"][t, skill], -paths["gain"][t, skill]
            rows.append(row)
            news.append(on_day[skill] + (level - mean) / spread - paths["mean"][t, skill])
            noise.append(1 / spread)
            places.append((t, skill))
    covariance = np.array([[paths["covariance"][a][b] for b in places] for a in places]) + np.diag(noise)
    return np.array(rows), covariance, np.array(news)


def _prior_paths(arrays, dynamics, kept, growths):
    """Mean, its derivatives, and covariance of ability on the day over (set, skill), before any mark.

    The filter adds the doubt of a new educator and brief (.25 + .25) to every set, as does this."""
    size, sets = 2, len(kept)
    loading = {}
    mean, start, gain, course = [], [], [], []
    m, s, g, c = np.full(size, dynamics.start), np.ones(size), np.zeros(size), np.zeros((2, size))
    for t in range(sets):
        m = dynamics.start + kept[t] * (m - dynamics.start) + growths[t][0] * dynamics.gain
        s, g = kept[t] * s + 1 - kept[t], kept[t] * g + growths[t][0]
        c = kept[t] * c + np.array([[t == 1], [t == 2]])
        mean.append(m), start.append(s), gain.append(g), course.append(c)
    trends = np.cumsum(growths, axis=0)
    for t in range(sets):
        for k in range(size):
            for u in range(sets):
                for j in range(size):
                    loading[((t, k), (u, j))] = _covariance(dynamics, (t, k), (u, j), trends)
    by_row = {a: {b: loading[(a, b)] for (x, b) in loading if x == a} for (a, _) in loading}
    means = {"mean": mean, "start": start, "gain": gain, "course": course}
    return {name: np.array(path) for name, path in means.items()} | {"covariance": by_row}


def _covariance(dynamics, one, two, trends):
    (t, k), (u, j) = one, two
    same_skill, same_day, early = k == j, t == u, min(t, u)
    idle = 3.0 * early
    total = dynamics.start_common + same_skill * dynamics.start_own
    total += trends[t] @ (trends[u] * [dynamics.gain_variance, dynamics.lead_variance])
    total += early * (dynamics.step_common + same_skill * dynamics.step_own)
    total += idle * (dynamics.idle_common + same_skill * dynamics.idle_own)
    return total + same_day * (dynamics.day_common + 0.5 + same_skill * dynamics.day_own)


def test_taking_out_the_mean_leaves_no_variance_of_the_mean():
    root = np.random.default_rng(1).normal(size=(5, 5))
    covariance = centred(root @ root.T, [np.arange(3)])
    ones = np.array([1, 1, 1, 0, 0])
    assert ones @ covariance @ ones == pytest.approx(0, abs=1e-12)
    assert centred(root @ root.T, [np.array([2])])[2, 2] == 0  # one educator alone


def test_without_marks_the_prior_stays():
    equations, _ = equations_of(small_table(np.random.default_rng(1)), PLAIN)
    equations.matrix[:], equations.right[:] = 0, 0
    change, covariance = solved(equations, np.full(14, 4.0), np.zeros(14))
    assert change.tolist() == [0] * 14
    assert np.diag(covariance) == pytest.approx(0.25)
