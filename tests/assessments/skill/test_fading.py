from dataclasses import replace

import numpy as np
import pytest

from assessments.skill.arrays import parameter_arrays
from assessments.skill.fading import fadings, idle_abilities
from assessments.skill.filter import Belief
from assessments.skill.model import StateSpaceModel
from assessments.skill.observations import Grading, SetRecord, StudentRecord
from assessments.skill.parameters import Criterion, Parameters, Skill
from assessments.skill.weakest import SkillTarget

MONTH = 365.25 / 12
CODES = ("isolation", "wrap", "pace")
PARAMETERS = Parameters(
    "1",
    (Skill("isolation"), Skill("wrap"), Skill("pace", is_speed=True)),
    tuple(Criterion(code, code) for code in CODES),
)
MODEL = StateSpaceModel(PARAMETERS)
TARGETS = [SkillTarget(code, code.title(), code == "isolation", 3.0) for code in CODES]
AHEAD = [0, 7, 30, 90, 180, 365]


def record_of(*levels):
    sets = tuple(
        SetRecord(4.0 * nth, "brief", (Grading("ines", dict.fromkeys(CODES, level), {}),))
        for nth, level in enumerate(levels)
    )
    return StudentRecord(sets)


def fading_of(levels, day, ahead=AHEAD):
    record = record_of(*levels)
    _, last = MODEL.weak_skills_and_belief(record, TARGETS, day=day)
    return {each.target.skill: each for each in MODEL.fading(last, TARGETS, day=day, ahead=ahead)}


@pytest.mark.parametrize(
    ("months", "accuracy", "speed"),
    [(1, 0.899, 0.948), (2, 0.808, 0.899), (3, 0.726, 0.852), (6, 0.527, 0.726), (12, 0.278, 0.527)],
)
def test_gains_fade_as_the_published_half_lives_say(months, accuracy, speed):
    """Half-lives of "about 6.5 months" for accuracy and 13 for speed: P. Tatel and P. Ackerman, Psychological
    Bulletin 2025, abstract; the rows by 0.5 ** (months / half-life), which is arithmetic."""
    arrays = parameter_arrays(PARAMETERS)
    start = arrays.dynamics.start
    last = Belief(np.array([start + 2.0] * 3 + [0.5, 0.0]), np.eye(5) * 1e-4, np.zeros(5), 6, 0.0)
    mean, _ = idle_abilities(last, arrays, np.array([months * MONTH]))
    left = (mean[:, 0] - start) / 2.0
    assert left == pytest.approx([accuracy, accuracy, speed], abs=0.001)


@pytest.mark.parametrize("day", [20, 47.5])
def test_each_day_ahead_agrees_with_asking_the_model_on_that_day(day):
    """Two ways to one figure; the model takes its chances from 1024 points, these are the normal itself."""
    levels = (1, 2, 3, 3, 3)
    found = fading_of(levels, day)
    for place, days in enumerate(AHEAD):
        for weak in MODEL.weak_skills(record_of(*levels), TARGETS, day=day + days).skills:
            mine = found[weak.target.skill]
            assert mine.level[place] == pytest.approx(weak.estimate.level, abs=1e-9)
            assert mine.low[place] == pytest.approx(weak.estimate.low, abs=1e-9)
            assert mine.chance_below[place] == pytest.approx(weak.chance_below, abs=0.02)


@pytest.mark.parametrize("levels", [(3, 3, 3), (4, 4, 4, 4), (1, 2), (0, 1, 4)])
def test_without_practice_no_level_rises(levels):
    for each in fading_of(levels, 30, list(range(0, 730, 5))).values():
        assert all(
            later <= earlier + 1e-9 for earlier, later in zip(each.level, each.level[1:], strict=False)
        )


def test_accuracy_falls_below_the_target_before_speed_does():
    """Accuracy fades about twice as fast as speed: Tatel and Ackerman 2025; the older review of W. Arthur et
    al., Human Performance 1998, says the same (-1.00 against -0.32)."""
    days = list(range(1500))
    found = fading_of((4,) * 8, 30, days)
    first = {code: found[code].first_below(level=3.0, certainty=0.99) for code in CODES}
    assert first["isolation"] is not None
    assert first["pace"] is None or first["isolation"] < first["pace"]


def test_the_first_day_below_is_the_first_and_what_is_below_already_is_not_fading():
    found = fading_of((4,) * 8, 30, list(range(1500)))["isolation"]
    first = found.first_below(level=3.0, certainty=2.0)
    assert found.level[int(first)] < 3.0 <= found.level[int(first) - 1]
    assert replace(found, level=(2.0,) * len(found.ahead)).first_below(level=3.0, certainty=2.0) is None


def test_certainty_may_come_before_the_expected_level():
    found = fading_of((4,) * 8, 30, list(range(1500)))["isolation"]
    first = found.first_below(level=0.0, certainty=0.5)
    assert found.chance_below[int(first)] >= 0.5 > found.chance_below[int(first) - 1]


def test_who_has_no_sets_has_nothing_that_fades():
    _, last = MODEL.weak_skills_and_belief(StudentRecord(()), TARGETS, day=5)
    (first, *_) = MODEL.fading(last, TARGETS, day=5, ahead=[0, 365])
    assert first.level[0] == first.level[1]


def test_a_target_of_an_unknown_skill_is_left_out():
    _, last = MODEL.weak_skills_and_belief(record_of(3, 3), TARGETS, day=5)
    assert fadings(last, MODEL.arrays, [SkillTarget("new", "New", False, 3.0)], day=5, ahead=[0]) == ()
