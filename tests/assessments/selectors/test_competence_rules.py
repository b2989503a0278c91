"""Which rule is in force for a gate skill."""

import pytest

from academy.errors import NotHere
from assessments.scoring.mastery import MasteryConditions
from assessments.scoring.programme_rules import PRESETS
from assessments.selectors.competence_rules import (
    gate_skill,
    is_counted,
    mastery_conditions,
    rule_versions,
    skill_rules,
)
from assessments.services.competence import change_mastery
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench
from tests.factories.competence import passes_in_a_row, set_rule


def test_every_gate_skill_starts_with_the_short_course(bench: Bench):
    rules = {found.skill.code: found.newest for found in skill_rules(bench.academy)}
    assert set(rules) == {"isolation", "placement", "hygiene", "product"}
    assert all(rule.programme == PRESETS["short_course"] for rule in rules.values())


def test_the_newest_version_is_in_force_and_the_older_ones_stay_readable(bench: Bench, cast: Cast):
    set_rule(cast.owner, passes_in_a_row(2))
    isolation, placement, *_ = skill_rules(bench.academy)
    assert isolation.newest.programme["name"] == "2 in a row" and set(isolation.versions) == {1, 2}
    assert placement.newest.number == 1
    assert [rule.number for rule in rule_versions(bench.academy, isolation.skill)] == [2, 1]


def test_a_neighbours_rules_are_not_ours(bench: Bench, cast: Cast):
    set_rule(cast.owner, passes_in_a_row(2))
    assert skill_rules(cast.other_academy)[0].newest.programme == PRESETS["short_course"]


def test_only_a_gate_skill_has_a_rule(bench: Bench):
    assert gate_skill("isolation").is_gate
    for code in ("closure", "nonsense"):
        with pytest.raises(NotHere):
            gate_skill(code)


def test_mastery_starts_with_the_conditions_of_the_programme(bench: Bench, cast: Cast):
    """Three sets on three days, level 3, 1 gate fault in 120 fans, one blind mark: a proposal."""
    assert mastery_conditions(bench.academy) == MasteryConditions(
        sets=3, days=3, level=3, faults_allowed=1, inspected=120, blind_marks=1
    )
    change_mastery(academy=bench.academy, conditions={"sets": 4}, actor=cast.owner, now=STARTED)
    assert mastery_conditions(bench.academy).sets == 4


def test_isolation_is_counted_fan_by_fan_and_hygiene_is_not(bench: Bench):
    assert is_counted(bench.academy, gate_skill("isolation"))
    assert not is_counted(bench.academy, gate_skill("hygiene"))
