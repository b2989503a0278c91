import json

import numpy as np
import pytest

from assessments.skill.interface import SkillInputError
from assessments.skill.parameters import (
    CountScale,
    Criterion,
    Dynamics,
    Facet,
    Parameters,
    Skill,
    parameters_from_json,
)

PARAMETERS = Parameters(
    "7",
    (Skill("isolation"), Skill("pace", is_speed=True)),
    (
        Criterion("sticky", "isolation", count=CountScale(at_most=(0, 1, 2, 6))),
        Criterion("minutes", "pace", 0.3),
    ),
    educators={"ines": Facet(0.2, 0.01, 300, (0.5, 0.1, -0.2, -0.4))},
    briefs={"classic": Facet(-0.1, 0.02, 80)},
    notes=("Only one educator has marked: severity cannot be separated from skill.",),
)


def test_what_is_written_is_read_back_the_same():
    assert parameters_from_json(PARAMETERS.to_json()) == PARAMETERS


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"version": "1", "skills": 3}'])
def test_text_of_another_form_is_refused_with_advice(text):
    with pytest.raises(SkillInputError, match="Refit them, or restore an older version") as refusal:
        parameters_from_json(text)
    assert refusal.value.code == "bad_parameters"


@pytest.mark.parametrize(
    "change",
    [
        {"thresholds": [0, 1]},
        {"dynamics": {"start_own": -1}},
        {"dynamics": {"fade_days_speed": 0}},
        {"dynamics": {"course": [0.1]}},
        {"criteria": [{"code": "c", "skill": "pace", "offset": 0, "count": {"slope": 0.3, "bend": -0.3}}]},
        {"criteria": [{"code": "c", "skill": "pace", "offset": 0, "count": {"rise": -0.1}}]},
        {"educators": {"ines": {"value": 0, "variance": 0, "marks": 1, "steps": [1]}}},
    ],
)
def test_numbers_that_cannot_be_are_refused(change):
    data = json.loads(PARAMETERS.to_json())
    for key, value in change.items():
        data[key] = {**data[key], **value} if isinstance(value, dict) else value
    with pytest.raises(SkillInputError):
        parameters_from_json(json.dumps(data))


def test_a_criterion_of_a_skill_that_is_not_listed_is_refused():
    with pytest.raises(SkillInputError, match="unknown skill wrap"):
        Parameters("1", (Skill("isolation"),), (Criterion("c", "wrap"),))


@pytest.mark.parametrize("rows", [{"skills": (Skill("a"), Skill("a"))}, {"skills": (), "criteria": ()}])
def test_a_code_listed_twice_is_refused_and_nothing_at_all_is_not(rows):
    if rows["skills"]:
        with pytest.raises(SkillInputError, match="twice"):
            Parameters("1", rows["skills"], ())
    else:
        assert Parameters("1", (), ()).skill_codes == ()


def test_covering_adds_what_is_new_and_keeps_what_is_known():
    """A rubric renames the skill 'Isolation' to 'Clean isolation': its code stays, so nothing is new."""
    wider = PARAMETERS.covering(
        (Skill("isolation"), Skill("wrap")), (Criterion("minutes", "pace"), Criterion("w", "wrap"))
    )
    assert wider.skill_codes == ("isolation", "pace", "wrap")
    assert [criterion.code for criterion in wider.criteria] == ["sticky", "minutes", "w"]
    assert wider.criteria[1].offset == 0.3
    assert wider.educators == PARAMETERS.educators


def test_half_of_a_gain_fades_in_6_and_a_half_and_13_months():
    """P. Tatel and P. Ackerman, Psychological Bulletin 2025, abstract: about 6.5 months for accuracy, 13 for
    speed (SEEN as an abstract; a guide, not lash work)."""
    assert Dynamics().fade_days_accuracy == pytest.approx(6.5 * 30.4, rel=0.01)
    assert Dynamics().fade_days_speed == pytest.approx(13 * 30.4, rel=0.01)


def test_parameters_written_before_there_were_steps_a_course_and_a_lead_are_still_read():
    data = json.loads(PARAMETERS.to_json())
    del data["educators"]["ines"]["steps"], data["dynamics"]["course"], data["dynamics"]["lead_variance"]
    found = parameters_from_json(json.dumps(data))
    assert found.educators["ines"] == Facet(0.2, 0.01, 300)
    assert found.dynamics == Dynamics()


def test_parameters_written_before_fault_curves_could_bend_are_still_read():
    data = json.loads(PARAMETERS.to_json())
    del data["criteria"][0]["count"]["bend"], data["criteria"][0]["count"]["rise"]
    assert parameters_from_json(json.dumps(data)) == PARAMETERS


def test_the_course_holds_for_its_stretch_and_ends():
    """Stretches end with steps 1, 3, 6, 10 and 19 (definition)."""
    dynamics = Dynamics(course=(0.1, 0.2, 0.3, 0.4, 0.5))
    assert [dynamics.extra_gain(step) for step in (1, 2, 3, 4, 6, 7, 10, 11, 19, 20, 200)] == [
        0.1, 0.2, 0.2, 0.3, 0.3, 0.4, 0.4, 0.5, 0.5, 0.0, 0.0
    ]  # fmt: skip


def test_who_learns_early_is_ahead_for_a_while_and_not_for_ever():
    """x e^(1 - x) is 1 at x = 1, its maximum, and falls to 0 (calculus)."""
    ahead = np.cumsum([Dynamics().growth(step)[1] for step in range(1, 101)])
    assert ahead.argmax() + 1 == 5
    assert ahead[4] == pytest.approx(1)
    assert ahead[-1] == pytest.approx(0, abs=1e-6)
