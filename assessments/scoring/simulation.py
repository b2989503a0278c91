"""A competence rule tried on invented students, also where the world is not as the rule assumes."""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from assessments.scoring.competence_rules import CompetenceRule, IntArray


@dataclass(frozen=True, slots=True)
class Simulated:
    """Shares of `students` declared and told "not yet" within `sets` sets, each with its standard error."""

    students: int
    sets: int
    declared: float
    declared_error: float
    not_yet: float
    not_yet_error: float
    median_sets: int | None


def simulate(
    rule: CompetenceRule,
    rate: float,
    *,
    rng: np.random.Generator,
    students: int = 10_000,
    sets: int | None = None,
    nature: CompetenceRule | None = None,
) -> Simulated:
    """Give each student `sets` sets (the rule's horizon) under average conditions at a true `rate`, 0..1.

    `nature` draws the results when the world is not as the rule assumes, such as more alike fans. "Not yet"
    is final here.
    """
    horizon, conditions = sets or rule.horizon, rule.usual
    evidence, decided, at = np.zeros(students), np.zeros(students, int), np.zeros(students, int)
    for number in range(1, horizon + 1):
        drawn = (nature or rule).draw(rate, conditions, rng, students)
        evidence = rule.move(evidence, drawn, conditions)
        verdict = np.where(decided == 0, rule.verdict(evidence), 0)
        decided, at = decided + verdict, np.where(verdict != 0, number, at)
    return _summed_up(decided, at, horizon)


def _summed_up(decided: IntArray, at: IntArray, sets: int) -> Simulated:
    students = decided.size
    declared, not_yet = float((decided > 0).mean()), float((decided < 0).mean())
    places = np.sort(np.where(decided > 0, at, sets + 1))
    middle = int(places[(students - 1) // 2])
    return Simulated(
        students=students,
        sets=sets,
        declared=declared,
        declared_error=sqrt(declared * (1 - declared) / students),
        not_yet=not_yet,
        not_yet_error=sqrt(not_yet * (1 - not_yet) / students),
        median_sets=middle if middle <= sets else None,
    )
