"""Small invented schools for the tests of the skill model."""

import numpy as np

from assessments.skill.observations import Grading, SetRecord, StudentRecord
from assessments.skill.parameters import CountScale, Criterion, Facet, Parameters, Skill

BENT = CountScale(bend=0.1, rise=0.1)
CRITERIA = tuple(
    Criterion(f"{skill}-{place}", skill, 0.2 * place, BENT if (skill, place) == ("isolation", 0) else None)
    for skill in ("isolation", "wrap", "pace")
    for place in range(2)
)
PARAMETERS = Parameters(
    "1",
    (Skill("isolation"), Skill("wrap"), Skill("pace", is_speed=True)),
    CRITERIA,
    educators={"e0": Facet(0.3, 0.01), "e1": Facet(-0.2, 0.02)},
    briefs={"b0": Facet(0.1, 0.01)},
)


def ragged_records(rng, students=20):
    """Any number of sets, blind second marks, counts and missing marks; nothing about it is plausible."""
    return [StudentRecord(tuple(_set(rng, n) for n in range(rng.integers(0, 9)))) for _ in range(students)]


def _set(rng, n):
    educators = rng.permutation(3)[: 1 + (rng.random() < 0.3)]
    return SetRecord(
        20.0 * n + rng.random(), f"b{rng.integers(2)}", tuple(_grading(rng, e) for e in educators)
    )


def _grading(rng, educator):
    levels = {item.code: int(rng.integers(0, 5)) for item in CRITERIA if rng.random() < 0.8}
    counts = {"isolation-0": (int(rng.integers(0, 8)), 40)} if rng.random() < 0.7 else {}
    return Grading(f"e{educator}", levels, counts)


def rng(seed=1):
    return np.random.default_rng(seed)
