"""Agreement, severity and time curves: speed and error beside general libraries, on simulated data.

Run with: OMP_NUM_THREADS=1 python -m tests.bench.bench_agreement
"""

from collections.abc import Callable
from os import getloadavg
from time import perf_counter
from warnings import catch_warnings, simplefilter

import numpy as np
from scipy.optimize import least_squares

from assessments.scoring.alpha import krippendorff_alpha
from assessments.scoring.facets import FacetMarks, fit_facets
from assessments.scoring.halo import SetMarks, halo_check
from assessments.skill.time_curve import basis, cold_prior, fit_time_curve, prior_from_population

STEPS = np.array([-1.8, -0.6, 0.6, 1.8])
Z90 = 1.6448536


def main() -> None:
    print(f"load average {getloadavg()[0]:.1f}")
    severity_error(20)
    speed()
    alpha_speed()
    halo_alarms()
    time_curves()


# --- Severity: ours beside RaschPy ---


def moderation(works: int, seed: int, educators: int = 8, criteria: int = 5, kept: float = 1.0):
    """Marks of every educator on every set; `kept` < 1 drops single marks at random."""
    rng = np.random.default_rng(seed)
    ability = rng.normal(0, 1.2, works)
    severity = rng.normal(0, 0.5, educators)
    severity -= severity.mean()
    place = ability[:, None, None] - severity[:, None] - np.linspace(-1, 1, criteria)
    weight = np.exp(place[..., None] * np.arange(5) - np.concatenate([[0], np.cumsum(STEPS)]))
    reach = np.cumsum(weight / weight.sum(-1, keepdims=True), axis=-1)[..., :-1]
    level = (rng.random(place.shape)[..., None] > reach).sum(-1)
    work, educator, criterion = (index.ravel() for index in np.indices(place.shape))
    keep = rng.random(work.size) < kept
    names = [f"educator {n}" for n in range(educators)], [f"criterion {n}" for n in range(criteria)]
    marks = FacetMarks(work[keep], educator[keep], criterion[keep], level.ravel()[keep], *names)
    return marks, severity, level


def raschpy_frame(level):
    import pandas as pd

    works, educators, criteria = level.shape
    index = pd.MultiIndex.from_product([range(educators), range(works)], names=["Rater", "Person"])
    return pd.DataFrame(level.transpose(1, 0, 2).reshape(-1, criteria), index=index)


def raschpy_fit(frame):
    """Its default calibration and person estimates; building its data object is not counted by the caller."""
    import raschpy

    with catch_warnings():
        simplefilter("ignore")
        model = raschpy.MFRM(frame, max_score=4)
        start = perf_counter()
        model.calibrate()
        model.person_estimates()
        return model.facet_effects_global.to_numpy(), perf_counter() - start


def severity_error(seeds: int, sizes: tuple[int, ...] = (200, 2000, 20_000)) -> None:
    print(f"\nSeverity RMSE in logits over {seeds} seeds, 8 educators x 5 criteria (goal: ratio <= 1.25)")
    print("   sets     ours  RaschPy  ratio  largest gap in SE  90 % interval covers")
    for works in sizes:
        ours, theirs, gap, covers = [], [], 0.0, []
        for seed in range(seeds):
            marks, truth, level = moderation(works, seed)
            fit = fit_facets(marks)
            other = raschpy_fit(raschpy_frame(level))[0]
            ours.append(fit.severity - truth)
            theirs.append(other - other.mean() - truth)
            error = np.sqrt(np.diag(fit.severity_cov))
            gap = max(gap, float(np.abs((ours[-1] - theirs[-1]) / error).max()))
            covers.append(np.abs(ours[-1]) <= Z90 * error)
        rmse = [np.sqrt(np.mean(np.square(side))) for side in (ours, theirs)]
        print(
            f"{works:7d}  {rmse[0]:.4f}   {rmse[1]:.4f}  {rmse[0] / rmse[1]:5.2f}  {gap:17.2f}"
            f"  {np.mean(covers):20.3f}"
        )


def speed() -> None:
    print("\nFit with set estimates, seconds, best of 5, in one run (goals .06 and .4)")
    print("    marks     ours  RaschPy")
    for works in (200, 2000, 20_000):
        marks, _, level = moderation(works, 1)
        frame = raschpy_frame(level)
        ours = theirs = np.inf
        for _ in range(5):  # taking turns, so that both meet the same load
            ours = min(ours, timed(fit_facets, marks))
            theirs = min(theirs, raschpy_fit(frame)[1])
        print(f"{marks.level.size:9d}  {ours:.4f}   {theirs:.4f}")
    marks = moderation(2000, 1, kept=0.7)[0]
    print(f"{marks.level.size:9d}  {timed(fit_facets, marks):.4f}   (single marks missing at random)")


def timed(run: Callable[..., object], *arguments: object) -> float:
    start = perf_counter()
    run(*arguments)
    return perf_counter() - start


# --- Alpha and halo ---


def alpha_speed() -> None:
    rng = np.random.default_rng(2)
    marks = np.clip(rng.integers(0, 5, 500) + rng.integers(-1, 2, (4, 500)), 0, 4).astype(float)
    marks[rng.random(marks.shape) < 0.3] = np.nan
    run = min(timed(lambda: krippendorff_alpha(marks, rng=np.random.default_rng(1))) for _ in range(5))
    print(f"\nAlpha with 1000 bootstrap draws on 500 sets: {run:.3f} s, best of 5 (goal .3)")


def halo_alarms(rounds: int = 100) -> None:
    print(f"\nHalo check, 4 educators, 6 criteria, 40 students x 5 sets, {rounds} rounds: share reported")
    for extra in (0.0, 0.3, 0.6):
        found = [halo_round(seed, extra) == "halo" for seed in range(rounds)]
        print(f"  impression with sd {extra:.1f} levels added by one educator: {np.mean(found):.2f}")


def halo_round(seed: int, extra: float) -> str:
    rng = np.random.default_rng(seed)
    student = np.repeat(np.arange(40), 5)
    educator = rng.integers(0, 4, 200)
    marks = rng.normal(0, 0.5, (40, 1))[student] + rng.normal(0, 0.7, (200, 6))
    marks = marks + np.where(educator == 0, rng.normal(0, extra, 200), 0.0)[:, None]
    given = SetMarks(np.round(marks), educator.astype(str), student.astype(str))
    return halo_check(given, "0", rng=rng, draws=400).status


# --- Time curves ---


def quadratic_students(rng, count: int, sets: int):
    """(seconds, true ln medians): curves as the fitted family, normal scatter."""
    covariance = np.diag([0.25, 0.12, 0.03]) ** 2
    covariance[0, 1] = covariance[1, 0] = -0.3 * 0.25 * 0.12
    drawn = rng.multivariate_normal([9.2, -0.35, 0.02], covariance, count)
    truth = drawn @ basis(np.arange(1.0, sets + 1)).T
    return np.exp(truth + rng.normal(0, 0.12, truth.shape)), truth


def plateau_students(rng, count: int, sets: int):
    """Another shape: a floor the time cannot pass, steeper early gains, heavy-tailed scatter that differs."""
    floor = 4500 * np.exp(rng.normal(0, 0.25, count))
    gain = floor * np.exp(rng.normal(0.3, 0.4, count))
    rate = np.exp(rng.normal(np.log(0.7), 0.35, count))
    number = np.arange(1.0, sets + 1)
    truth = np.log(floor[:, None] + gain[:, None] * number ** -rate[:, None])
    scatter = 0.13 * np.exp(rng.normal(0, 0.3, count))[:, None]
    return np.exp(truth + scatter * rng.standard_t(5, truth.shape) / np.sqrt(5 / 3)), truth


def time_curves(students: int = 300) -> None:
    rng = np.random.default_rng(3)
    populations = {"quadratic-log": quadratic_students, "plateau": plateau_students}
    learned = {
        name: prior_from_population(
            [(range(1, 26), row) for row in draw(rng, 200, 25)[0].tolist()], first_s=9000
        )
        for name, draw in populations.items()
    }
    print("\nTime curve: RMSE of the ln median time ten sets on, and cover of its 90 % interval")
    print("  population     sets  own prior      other prior    cold prior     plateau MAP   plain log-log")
    for name, draw in populations.items():
        seconds, truth = draw(rng, students, 25)
        other = next(prior for key, prior in learned.items() if key != name)
        for seen in (3, 5, 8, 15):
            want = truth[:, seen + 9]
            rows = seconds[:, :seen].tolist()
            cells = [ours(rows, seen, want, lambda _, prior=p: prior) for p in (learned[name], other)]
            cells.append(ours(rows, seen, want, lambda row: cold_prior(row[0])))
            cells.append(f"{rmse(plateau_map(rows, seen), want)}      ")
            cells.append(rmse(plain(rows, seen), want))
            print(f"  {name:<14} {seen:4d}  " + "   ".join(cells))


def ours(rows, seen, want, prior_of) -> str:
    number, found, inside = [seen + 10], [], 0
    for row, target in zip(rows, want, strict=True):
        fit = fit_time_curve(range(1, seen + 1), row, prior_of(row))
        low, high = fit.interval_s(number)
        found.append(float(np.log(fit.median_s(number))[0]))
        inside += bool(np.log(low)[0] <= target <= np.log(high)[0])
    return f"{rmse(found, want)} ({inside / len(rows):.2f})"


def plateau_map(rows, seen):
    """Floor + gain n^-rate with a normal prior on the logarithms, centred on the plateau students' truth."""
    number = np.arange(1.0, seen + 1)
    centre, spread = np.array([8.41, 8.71, np.log(0.7)]), np.array([0.25, 0.5, 0.35])

    def misfit(p, logs):
        curve = np.log(np.exp(p[0]) + np.exp(p[1]) * number ** -np.exp(p[2]))
        return np.concatenate([(logs - curve) / 0.13, (p - centre) / spread])

    found = [least_squares(misfit, centre, args=(np.log(row),)).x for row in rows]
    return [np.log(np.exp(p[0]) + np.exp(p[1]) * (seen + 10.0) ** -np.exp(p[2])) for p in found]


def plain(rows, seen):
    number = np.log(np.arange(1.0, seen + 1))
    return [np.polyval(np.polyfit(number, np.log(row), 1), np.log(seen + 10)) for row in rows]


def rmse(found, want) -> str:
    return f"{np.sqrt(np.mean((np.asarray(found) - want) ** 2)):.3f}"


if __name__ == "__main__":
    main()
