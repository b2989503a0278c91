"""Standings follow the marks that count, also when they are corrected or vanish."""

from datetime import timedelta

import pytest

from assessments.models import SkillStanding
from assessments.selectors.skill import MODEL
from assessments.services.marking import correct_marks
from assessments.services.skill import refresh_standings
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, Outcome, make_entry, make_graded_set
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric


@pytest.fixture
def bench(cast: Cast) -> Bench:
    starter_rubric(cast.academy, cast.owner)
    brief = make_brief(cast.academy, cast.ines)
    return Bench(cast.ada, cast.ines, brief, make_head(cast.academy))


def standing(bench: Bench, skill: str) -> SkillStanding:
    return SkillStanding.objects.get(student=bench.student, skill__code=skill)


def test_signing_writes_one_standing_for_every_skill_that_was_marked(bench: Bench):
    grade = make_graded_set(bench)
    marked = {mark.criterion.skill.code for mark in grade.marks.all()}
    rows = SkillStanding.objects.filter(student=bench.student)
    assert {row.skill.code for row in rows} == marked
    assert {row.sets for row in rows} == {1}
    assert {row.model_version for row in rows} == {MODEL.version}


def test_the_standing_is_the_models_answer_worked_out_by_hand(bench: Bench):
    """One set at level 4 against a prior of 1.5 worth half a set that has faded by one set's half-life.

    Prior weight 0.5 / 2^(1/2) = 0.35355; level = 1.5 + (4 - 1.5) / (1 + 0.35355) = 3.3470. The formula is the
    conjugate normal update (Gelman et al., Bayesian Data Analysis, section 3.3), done on paper.
    """
    make_graded_set(bench)
    assert standing(bench, "isolation").level == pytest.approx(3.3470, abs=5e-4)


def test_a_second_set_moves_the_same_row(bench: Bench):
    make_graded_set(bench)
    first = standing(bench, "isolation")
    make_graded_set(bench, at=STARTED + timedelta(days=3), outcome=Outcome({i: ["STK"] for i in range(7)}))
    second = standing(bench, "isolation")
    assert second.pk == first.pk
    assert second.sets == 2
    assert second.level is not None and first.level is not None and second.level < first.level


def test_a_correction_replaces_the_marks_it_corrects(bench: Bench):
    grade = make_graded_set(bench)
    corrected = make_entry(levels={"isolation": 1})
    correct_marks(
        actor=bench.educator,
        uid=grade.practice_set.uid,
        entry=corrected,
        reason="Three stuck fans were missed.",
        base_revision=1,
        now=STARTED + timedelta(days=1),
    )
    row = standing(bench, "isolation")
    assert row.sets == 1
    # 1.5 + (1 - 1.5) / 1.35355, by the same paper formula
    assert row.level == pytest.approx(1.1306, abs=5e-4)


def test_refreshing_twice_changes_nothing_but_the_instant(bench: Bench):
    make_graded_set(bench)
    now = STARTED + timedelta(days=1)
    refresh_standings(student=bench.student, now=now)
    before = list(SkillStanding.objects.order_by("pk").values("pk", "level", "low", "high", "sets"))
    refresh_standings(student=bench.student, now=now)
    assert list(SkillStanding.objects.order_by("pk").values("pk", "level", "low", "high", "sets")) == before


def test_a_skill_that_no_mark_speaks_of_any_more_loses_its_standing(bench: Bench):
    make_graded_set(bench)
    stray = standing(bench, "time")
    stray.pk = None
    stray.student = bench.educator
    stray.save()
    refresh_standings(student=bench.educator, now=STARTED + timedelta(days=1))
    assert not SkillStanding.objects.filter(student=bench.educator).exists()


def test_a_student_without_marks_has_no_standing_rather_than_a_zero(bench: Bench):
    refresh_standings(student=bench.student, now=STARTED)
    assert not SkillStanding.objects.exists()
