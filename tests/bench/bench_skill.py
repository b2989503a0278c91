"""How near the skill model comes to the truth of two invented schools, and what it costs.

Run with: OMP_NUM_THREADS=1 python -m tests.bench.bench_skill

Half of each school's students refit the parameters; every figure is from the other half.
"""

import os
import resource
import sys
from dataclasses import dataclass
from time import perf_counter, process_time

import numpy as np

from assessments.skill.arrays import parameter_arrays
from assessments.skill.batch import filter_table
from assessments.skill.calibrate import calibrated, refitted
from assessments.skill.filter import Belief, after_set, beliefs_after_each_set
from assessments.skill.model import StateSpaceModel
from assessments.skill.observations import Grading, SetRecord, StudentRecord
from assessments.skill.parameters import Criterion, Parameters, Skill
from assessments.skill.report import Seen, estimates, level_with_interval
from assessments.skill.table import MarkTable
from assessments.skill.weak import weak_skills
from assessments.skill.weakest import SkillTarget
from tests.bench.simulators import model_like, other
from tests.bench.simulators.school import SKILL_OF, SKILLS, first_sets, start_parameters

STUDENTS, SETS = 2000, 12
CHECKED = (3, 5, 10)
SIMULATORS = {"model-like": model_like, "other": other}


@dataclass(frozen=True)
class Half:
    """Students with their marks, mean level of each set and skill, and truth."""

    table: MarkTable
    levels: np.ndarray
    truth: np.ndarray


def halves(school):
    students = np.array_split(np.arange(school.table.students), 2)
    return [
        Half(table := school.table.of_students(part), set_levels(table), school.truth[part])
        for part in students
    ]


def set_levels(table):
    """(students, sets, skills) mean level; nan where a skill was not marked."""
    levels = table.levels.reshape(table.students, SETS, -1).astype(float)
    levels[levels < 0] = np.nan
    marks = [levels[..., skill == SKILL_OF] for skill in range(len(SKILLS))]
    counts = np.stack([np.isfinite(part).sum(axis=-1) for part in marks], axis=-1)
    sums = np.stack([np.nansum(part, axis=-1) for part in marks], axis=-1)
    return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)


def last_three(levels, sets):
    part = levels[:, max(0, sets - 3) : sets]
    return np.nansum(part, axis=1) / np.maximum(np.isfinite(part).sum(axis=1), 1)


def exponential(levels, sets, weight):
    average = np.where(np.isfinite(levels[:, 0]), levels[:, 0], np.nanmean(levels[:, 0]))
    for t in range(1, sets):
        average = np.where(np.isfinite(levels[:, t]), average + weight * (levels[:, t] - average), average)
    return average


def tuned_weight(half, sets):
    """The rival's weight is tuned on the truth of the first half, which no school knows."""
    weights = np.arange(0.05, 1, 0.05)
    return min(
        weights, key=lambda weight: rmse(exponential(half.levels, sets, weight), half.truth[:, sets - 1])
    )


def rmse(found, truth):
    return float(np.sqrt(np.mean((found - truth) ** 2)))


def centred_rmse(found, truth):
    """Without each skill's mean error, so that a rival is not blamed for the severities it ignores."""
    error = found - truth
    return float(np.sqrt(np.mean((error - error.mean(axis=0)) ** 2)))


def reported(beliefs, arrays):
    """(level, low, high), each (students, skills)."""
    rows = [
        level_with_interval(
            beliefs.mean[:, skill],
            np.sqrt(beliefs.covariance[:, skill, skill] + beliefs.lean[:, skill] ** 2),
            skill,
            arrays,
        )
        for skill in range(len(SKILLS))
    ]
    return [np.stack(part, axis=-1) for part in zip(*rows, strict=True)]


def named_weakest(beliefs, arrays, truth):
    """(share of students with a named weakest skill, mean chance stated, share of those that are right)."""
    targets = [SkillTarget(code, code, False, 3.0) for code in SKILLS]
    chances, right = [], []
    for student in range(len(truth)):
        parts = (part[student].astype(float) for part in (beliefs.mean, beliefs.covariance, beliefs.lean))
        belief = Belief(*parts, 5, 0.0)
        report = weak_skills(belief, arrays, estimates(belief, arrays, [Seen(5, False)] * 4), targets)
        if report.weakest is not None:
            chances.append(max(weak.chance_weakest for weak in report.skills))
            right.append(SKILLS[truth[student].argmin()] == report.weakest)
    return len(right) / len(truth), float(np.mean(chances)), float(np.mean(right))


def top_two(found, truth):
    """Share of students whose truly weakest skill is among the two lowest."""
    return float(np.mean((np.argsort(found, axis=1)[:, :2] == truth.argmin(axis=1)[:, None]).any(axis=1)))


def accuracy(name, seed):
    rng = np.random.default_rng(seed)
    school = SIMULATORS[name].simulate(rng, students=STUDENTS, sets=SETS)
    train, new = halves(school)
    wall, cpu = perf_counter(), process_time()
    parameters = refitted(train.table, start_parameters(), rng, version="bench")
    spent = f"{perf_counter() - wall:.1f} s, {process_time() - cpu:.1f} s of processor"
    print(f"\n{name}, seed {seed}: weekly refit {spent}")
    arrays = parameter_arrays(parameters)
    print(
        "set  rmse  last 3         exponential    centred      covers  by skill             top 2  (last 3)"
    )
    for sets in CHECKED:
        _accuracy_row(sets, (train, new), arrays)
    beliefs = filter_table(first_sets(new.table, 10), arrays)
    share, stated, right = named_weakest(beliefs, arrays, new.truth[:, 9])
    print(f"set 10: a weakest skill is named for {share:.0%}; chance stated {stated:.2f}, right {right:.2f}")
    if name == "model-like":
        _severity_row(parameters, school)


def _severity_row(parameters, school):
    """Laplace's method draws the whole logit scale in a little; levels do not feel it, logits do."""
    facets = [parameters.educators[code] for code in school.table.educators]
    found, true = np.array([facet.value for facet in facets]), school.severity
    scale = found @ true / (true @ true)
    error = np.mean([facet.variance**0.5 for facet in facets])
    print(
        f"severities: rmse {rmse(found, true):.3f} logits; scale {scale:.3f}, "
        f"rmse on one scale {rmse(found / scale, true):.3f}, stated error {error:.3f}"
    )


def _accuracy_row(sets, parts, arrays):
    train, new = parts
    truth = new.truth[:, sets - 1]
    level, low, high = reported(filter_table(first_sets(new.table, sets), arrays), arrays)
    three, smooth = last_three(new.levels, sets), exponential(new.levels, sets, tuned_weight(train, sets))
    held = (low <= truth) & (truth <= high)
    gains = [1 - rmse(level, truth) / rmse(rival, truth) for rival in (three, smooth)]
    centred = [1 - centred_rmse(level, truth) / centred_rmse(rival, truth) for rival in (three, smooth)]
    print(
        f"{sets:3d}  {rmse(level, truth):.3f} {rmse(three, truth):.3f} -{gains[0]:5.1%}  "
        f"{rmse(smooth, truth):.3f} -{gains[1]:5.1%}  "
        f"-{centred[0]:.0%} -{centred[1]:.0%}   {held.mean():.3f}  "
        f"{np.round(held.mean(axis=0), 3)}  {top_two(level, truth):.3f}  {top_two(three, truth):.3f}"
    )


def speed():
    for skills, criteria in ((4, 10), (14, 14)):
        _single_speed(skills, criteria)
    for skills, criteria in ((4, 10), (14, 14)):
        _batch_speed(skills, criteria)
    _calibration_speed()


def plain_parameters(skills, criteria):
    codes = tuple(Skill(f"s{place}", place == 1) for place in range(skills))
    rows = tuple(Criterion(f"c{place}", f"s{place % skills}") for place in range(criteria))
    return Parameters("1", codes, rows)


def _single_speed(skills, criteria):
    parameters = plain_parameters(skills, criteria)
    arrays, rng = parameter_arrays(parameters), np.random.default_rng(1)
    records = [SetRecord(3.0 * n, "b", (Grading("e", _levels(rng, parameters)),)) for n in range(40)]
    before = beliefs_after_each_set(records[:-1], arrays)[-1]
    model, record = StateSpaceModel(parameters), StudentRecord(tuple(records))
    targets = [SkillTarget(item.code, item.code, False, 3.0) for item in parameters.skills]
    print(f"{skills} skills, {criteria} criteria, best and median ms of processor:")
    print("  one set", spent_ms(400, lambda: after_set(before, records[-1], arrays)))
    print("  replay of 40 sets", spent_ms(60, lambda: beliefs_after_each_set(records, arrays)))
    print("  the same with its report in levels", spent_ms(60, lambda: model.estimate_all(record, day=200.0)))
    for sets in (11, 40):
        until = StudentRecord(tuple(records[:sets]))
        spent = spent_ms(60, lambda until=until: model.weak_skills(until, targets, day=200.0))
        print(f"  all that a signature computes after {sets} sets", spent)


def _levels(rng, parameters):
    return {item.code: int(rng.integers(0, 5)) for item in parameters.criteria}


def spent_ms(times, work):
    spent = []
    for _ in range(times):
        start = process_time()
        work()
        spent.append(1e3 * (process_time() - start))
    return f"{min(spent):.2f} {np.median(spent):.2f}"


def _batch_speed(skills, criteria):
    rng, students = np.random.default_rng(1), 100_000
    sets = np.clip(rng.poisson(13.4, students), 1, 40)
    student = np.repeat(np.arange(students), sets)
    levels = rng.integers(0, 5, (len(student), criteria)).astype(np.int8)
    levels[rng.random(levels.shape) < 0.08] = -1
    nothing, zero = np.zeros((len(student), 0), dtype=np.int16), np.zeros(len(student), dtype=int)
    educator = rng.integers(0, 50, len(student))
    table = MarkTable(
        students, student, 3.0 * np.arange(len(student)), educator, zero, levels, nothing, nothing,
        tuple(f"e{place}" for place in range(50)), ("b",),
    )  # fmt: skip
    before = peak_gb()
    wall, cpu = perf_counter(), process_time()
    filter_table(table, parameter_arrays(plain_parameters(skills, criteria)))
    print(
        f"{skills} skills: {students} students, {len(student)} sets, "
        f"{(levels >= 0).sum() / 1e6:.1f} million marks "
        f"filtered in {perf_counter() - wall:.2f} s ({process_time() - cpu:.2f} s of processor), "
        f"peak memory {peak_gb():.2f} GB ({before:.2f} before)"
    )


def peak_gb():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6


def _calibration_speed():
    table = model_like.simulate(np.random.default_rng(2), students=2000, sets=12).table
    wall, cpu = perf_counter(), process_time()
    calibrated(table, start_parameters(), version="1")
    print(
        f"calibration on 2000 students, {(table.levels >= 0).sum()} marks: {perf_counter() - wall:.2f} s "
        f"({process_time() - cpu:.2f} s of processor)"
    )


def main(seeds=(5, 6, 7)):
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    speed()
    for name in SIMULATORS:
        for seed in seeds:
            accuracy(name, seed)
    print(f"load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main(tuple(map(int, sys.argv[1:])) or (5, 6, 7))
