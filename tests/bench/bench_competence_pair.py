"""What a competence rule and the mastery conditions do together, on students who are still learning.

Both invented schools know each student's true expected level, so a declaration can be held against it. The
gate skills are isolation and placement; a set fails when the counted criterion is under level 2. A student is
taken as not ready while her weaker gate skill is truly below level 2.5, as ready from 3 on. A blind second
mark is taken as given, days as different.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assessments.scoring.competence_rules import CompetenceRule
from assessments.scoring.mastery import MasteryConditions
from assessments.scoring.programme_rules import PRESETS, THREE_IN_A_ROW, parse_programme, parse_rule
from tests.bench.simulators import model_like, other
from tests.bench.simulators.school import COUNTED, School

SEED, STUDENTS, SETS = 20_260, 4000, 24
GATE_LEVEL, NOT_READY, READY = 2, 2.5, 3.0
SCHOOLS: dict[str, Callable[..., School]] = {
    "like the model": model_like.simulate,
    "apart from it": other.simulate,
}
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Marks:
    """(students, sets, …) in the order of the sets; `weaker`: true level of the weaker gate skill."""

    levels: np.ndarray
    faults: np.ndarray
    inspected: np.ndarray
    weaker: np.ndarray

    @property
    def failed(self) -> BoolArray:
        """(students, sets, gate skills)"""
        return self.levels[..., COUNTED] < GATE_LEVEL


def main() -> None:
    print("Competence: a rule, the mastery conditions, and both, for students who are still learning")
    print(f"  {STUDENTS} students, {SETS} sets each; isolation and placement both to be declared")
    for name, simulate in SCHOOLS.items():
        marks = marks_of(simulate(np.random.default_rng(SEED), students=STUDENTS, sets=SETS))
        never = marks.weaker.max(axis=1) < NOT_READY
        print(f"\nSchool {name}: {never.sum()} students stay below {NOT_READY} in all {SETS} sets")
        print(f"  {'':<34} declared  median  below 2.5  3 or more  mean  of those who stay")
        for rule, declared in ways(marks).items():
            print(f"  {rule:<34}{_row(declared, marks.weaker, never)}")


def marks_of(school: School) -> Marks:
    students, sets, _ = school.truth.shape
    table = school.table
    parts = [part.reshape(students, sets, -1) for part in (table.levels, table.faults, table.inspected)]
    levels, faults, inspected = parts
    return Marks(levels, faults, inspected, school.truth[..., :2].min(axis=2))


def ways(marks: Marks) -> dict[str, BoolArray]:
    """(students, sets): whether the student is declared by then, by the way of declaring."""
    rules = {name: parse_programme(PRESETS[name]).rule for name in ("short_course", "long_course")}
    three, mastery = _declared(parse_rule(THREE_IN_A_ROW), marks.failed), mastered(marks)
    short, long = (_declared(rule, marks.failed) for rule in rules.values())
    return {
        "three passes in a row": three,
        "short course": short,
        "long course": long,
        "mastery conditions": np.logical_or.accumulate(mastery, axis=1),
        "three in a row and mastery": np.logical_or.accumulate(three & mastery, axis=1),
        "short course and mastery (default)": np.logical_or.accumulate(short & mastery, axis=1),
        "long course and mastery": np.logical_or.accumulate(long & mastery, axis=1),
    }


def mastered(marks: Marks, asked: MasteryConditions = MasteryConditions()) -> BoolArray:  # noqa: B008  # frozen
    """(students, sets): whether the last sets by then meet the conditions; a missing mark is left out."""
    sound = np.all((marks.levels >= asked.level) | (marks.levels < 0), axis=2)
    good = sound & ~marks.failed.any(axis=2)
    faults, inspected = marks.faults[..., COUNTED[0]], marks.inspected[..., COUNTED[0]]  # stickies
    met = np.zeros(good.shape, dtype=bool)
    for last in range(asked.sets, good.shape[1] + 1):
        window = slice(last - asked.sets, last)
        seen = inspected[:, window].sum(axis=1)
        few = faults[:, window].sum(axis=1) <= asked.faults_allowed * seen // asked.inspected
        met[:, last - 1] = good[:, window].all(axis=1) & few & (seen >= asked.inspected)
    return met


def _declared(rule: CompetenceRule, failed: BoolArray) -> BoolArray:
    """(students, sets): both gate skills declared by then."""
    evidence = np.zeros((failed.shape[0], failed.shape[2]))
    declared = np.zeros(evidence.shape, dtype=bool)
    course = []
    for nth in range(failed.shape[1]):
        evidence = rule.move(evidence, failed[:, nth].astype(np.int64), rule.usual)
        declared |= rule.verdict(evidence) > 0
        course.append(declared.all(axis=1))
    return np.stack(course, axis=1)


def _row(declared: BoolArray, weaker: np.ndarray, never: BoolArray) -> str:
    """How many and when; how good they truly were at that set; and how many of those who never come up."""
    found = declared[:, -1]
    at = declared.argmax(axis=1)
    level = weaker[np.arange(len(at)), at][found]
    if not found.any():
        return f"{0:>8.1f}%{'–':>8}"
    below, sound = np.mean(level < NOT_READY), np.mean(level >= READY)
    return (
        f"{100 * found.mean():>8.1f}%{np.median(at[found]) + 1:>8.0f}{100 * below:>10.1f}%"
        f"{100 * sound:>10.1f}%{level.mean():>6.2f}{100 * found[never].mean():>18.1f}%"
    )


if __name__ == "__main__":
    main()
