"""What both simulators give: marks, and the truth that no mark shows."""

from dataclasses import dataclass, replace

import numpy as np

from assessments.skill.likelihood import count_scale_from_bands
from assessments.skill.parameters import Criterion, Parameters, Skill
from assessments.skill.table import MarkTable, set_order

SKILLS = ("isolation", "placement", "closure", "pace")
PER_SKILL = (3, 2, 3, 2)
SKILL_OF = np.repeat(np.arange(len(SKILLS)), PER_SKILL)
COUNTED = (0, 3)  # one criterion of isolation, one of placement
INSPECTED = 40
AT_MOST = (0, 1, 2, 6)  # faults of 40 for level 4, 3, 2, 1


@dataclass(frozen=True)
class School:
    """`truth`: (students, sets, skills) expected level on the average brief with the average educator."""

    table: MarkTable
    truth: np.ndarray
    severity: np.ndarray


def start_parameters():
    """What a programme knows on its first day: its rubric, and nothing about anyone."""
    count_scale = count_scale_from_bands(AT_MOST, INSPECTED, Parameters("", (), ()).thresholds)
    criteria = tuple(
        Criterion(f"c{place}", SKILLS[skill], count=count_scale if place in COUNTED else None)
        for place, skill in enumerate(SKILL_OF)
    )
    return Parameters("start", tuple(Skill(code, code == "pace") for code in SKILLS), criteria)


def first_sets(table, sets):
    """The first `sets` sets of every student."""
    order = set_order(table)
    rows = order.rows[order.number < sets]
    fields = ("student", "day", "educator", "brief", "levels", "faults", "inspected")
    return replace(table, **{name: getattr(table, name)[rows] for name in fields})


def days_of(rng, students, sets, *, break_chance):
    """(students, sets): two to ten days apart, now and then a break of two to six months."""
    gaps = rng.uniform(2, 10, (students, sets))
    pause = rng.random((students, sets)) < break_chance
    return np.cumsum(np.where(pause, rng.uniform(60, 180, (students, sets)), gaps), axis=1)


def banded(faults):
    """The rubric's level for faults of 40."""
    return (faults[..., None] <= np.array(AT_MOST)).sum(axis=-1)


def names(letter, count):
    return tuple(f"{letter}{place}" for place in range(count))
