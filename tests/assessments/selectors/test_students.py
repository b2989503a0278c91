"""All students of an academy by need."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from academy.errors import NotHere
from academy.models import Academy, Membership
from assessments.models import SkillStanding
from assessments.selectors.students import student, student_rows, students_by_need
from courses.models import Skill
from tests.factories.academy import Cast, make_academy, make_cohort, make_member
from tests.factories.assessments import STARTED, Bench, make_graded_set, make_open_set
from tests.factories.competence import passes_in_a_row, set_rule, sets_at

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def skill(code: str, *, is_gate: bool = False) -> Skill:
    made, _ = Skill.objects.get_or_create(code=code, defaults={"name": code.title(), "is_gate": is_gate})
    return made


def stand(student: Membership, **levels: float) -> None:
    """Standings by skill code; ``isolation`` is the gate skill."""
    for code, level in levels.items():
        SkillStanding.objects.create(
            student=student,
            skill=skill(code, is_gate=code == "isolation"),
            level=level,
            low=max(0, level - 0.5),
            high=min(4, level + 0.5),
            sets=4,
            status="ok",
            words="",
            model_version="test",
            at=NOW,
        )


@pytest.fixture
def academy(db: None) -> Academy:
    return make_academy()


def names(academy: Academy, **asked: Any) -> list[str]:
    return [row.name for row in students_by_need(academy, **asked)]


def test_a_gate_skill_below_target_outranks_a_larger_gap_elsewhere(academy: Academy):
    stand(make_member(academy, "Gap Only"), closure=0.4, isolation=3.4)
    stand(make_member(academy, "Gate Low"), closure=3.5, isolation=2.6)
    assert names(academy) == ["Gate Low", "Gap Only"]


def test_among_equals_the_larger_gap_comes_first_and_then_the_name(academy: Academy):
    stand(make_member(academy, "Cora Small"), closure=2.8, isolation=3.2)
    stand(make_member(academy, "Bela Large"), closure=1.2, isolation=3.9)
    stand(make_member(academy, "Abel Small"), closure=2.8, isolation=3.2)
    assert names(academy) == ["Bela Large", "Abel Small", "Cora Small"]


def test_students_without_marks_close_the_list_and_are_not_dropped(academy: Academy):
    make_member(academy, "Anew")
    stand(make_member(academy, "Zoe Fine"), closure=3.9)
    assert names(academy) == ["Zoe Fine", "Anew"]


def test_the_place_of_a_student_who_is_marked_blind_says_nothing_of_her_result(academy: Academy):
    """Whatever her first result, she stands with the unmarked, by name."""
    stand(low := make_member(academy, "Mia Low"), isolation=0.2)
    stand(high := make_member(academy, "Nia High"), isolation=3.9)
    stand(make_member(academy, "Other"), isolation=2.0)
    make_member(academy, "Unmarked")
    assert names(academy) == ["Mia Low", "Other", "Nia High", "Unmarked"]
    assert names(academy, blind={low.pk, high.pk}) == ["Other", "Mia Low", "Nia High", "Unmarked"]


def test_a_level_that_is_shown_as_the_target_does_not_count_as_below(academy: Academy):
    stand(made := make_member(academy, "Nearly"), isolation=2.97)
    (row,) = student_rows(academy, [made], now=NOW)
    assert (row.gates_low, row.level) == (0, 3.0)


def test_cohort_and_name_narrow_the_list(academy: Academy):
    evening = make_cohort(academy)
    make_member(academy, "Ada Marsh", cohort=evening)
    make_member(academy, "Bea Marsh")
    assert names(academy, cohort_id=evening.pk) == ["Ada Marsh"]
    assert names(academy, search="marsh") == ["Ada Marsh", "Bea Marsh"]
    assert names(academy, search="marsh bea") == ["Bea Marsh"]
    assert names(academy, cohort_id=evening.pk + 999) == []


def test_people_who_left_educators_and_strangers_are_not_listed(cast: Cast):
    cast.bea.left_at = NOW
    cast.bea.save()
    assert names(cast.academy) == ["Ada Marsh"]


def test_a_row_tells_the_weakest_skill_the_sets_and_the_next_drill(bench: Bench):
    grade = make_graded_set(bench)
    later = STARTED + timedelta(days=3)
    make_open_set(bench, at=later)
    (row,) = student_rows(bench.academy, [bench.student], now=later + timedelta(days=9))
    assert (row.sets, row.last_set_at, row.idle_days) == (1, later, 9)
    assert row.grade == grade and row.is_drill_late  # set on 2 February with 7 days
    assert row.neediest is not None and row.gates_low >= 1 and row.neediest.skill.is_gate


def test_a_newcomers_row_invents_nothing(academy: Academy):
    made = make_member(academy, "Anew")
    (row,) = student_rows(academy, [made], now=NOW)
    assert (row.neediest, row.level, row.sets, row.last_set_at, row.idle_days, row.grade) == (
        None,
        None,
        0,
        None,
        None,
        None,
    )


def test_a_student_is_found_also_after_leaving_but_never_from_next_door(cast: Cast):
    cast.ada.left_at = NOW
    cast.ada.save()
    assert student(cast.academy, cast.ada.pk) == cast.ada
    for stranger in (cast.omar_student, cast.ines):
        with pytest.raises(NotHere):
            student(cast.academy, stranger.pk)


def test_where_the_decisions_on_gate_skills_stand_is_told(bench: Bench, cast: Cast):
    set_rule(cast.owner, passes_in_a_row(1))
    set_rule(cast.owner, passes_in_a_row(2), skill="hygiene")
    sets_at(bench, [3, 3])
    (row,) = student_rows(bench.academy, [bench.student], now=NOW)
    assert (row.competent, row.in_review, len(row.decided)) == (2, 0, 4)
    sets_at(bench, [0], first=STARTED + timedelta(days=4))
    (row,) = student_rows(bench.academy, [bench.student], now=NOW)
    assert (row.competent, row.in_review) == (1, 1)
