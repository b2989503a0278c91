"""Standings follow the marks that count, also when they are corrected or vanish."""

from datetime import timedelta
from uuid import uuid4

import pytest

from assessments.models import Grade, SkillStanding, StandingShown
from assessments.selectors.skill_records import day_of
from assessments.services.marking import correct_marks, sign_marks
from assessments.services.skill import refresh_standings
from assessments.skill.model import StateSpaceModel
from assessments.skill.observations import Grading, SetRecord, StudentRecord
from assessments.skill.parameters import Criterion, Parameters, Skill
from tests.factories.academy import Cast
from tests.factories.assessments import (
    STARTED,
    Bench,
    Outcome,
    make_entry,
    make_graded_set,
    make_inspected_set,
)
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
    assert {row.model_version for row in rows} == {"state-space-2 defaults-1"}


def test_the_standing_is_the_models_answer_to_a_record_written_by_hand(bench: Bench):
    """Symmetry has one levelled criterion; alone in a model without other skills it would stand elsewhere."""
    grade = make_graded_set(bench)
    marks = list(grade.marks.select_related("criterion__skill"))
    plain = [mark for mark in marks if mark.criterion.kind != "counted"]
    everything = Parameters(
        version="by hand",
        skills=tuple(Skill(code, code == "time") for code in {m.criterion.skill.code for m in marks}),
        criteria=tuple(Criterion(m.criterion.code, m.criterion.skill.code) for m in plain),
    )
    levels = {mark.criterion.code: mark.level for mark in plain}
    assert grade.practice_set.finished_at
    finished = day_of(grade.practice_set.finished_at)
    record = StudentRecord((SetRecord(finished, "b", (Grading("e", levels),)),))
    found = StateSpaceModel(everything).estimate_all(record, day=finished)
    by_hand = {each.skill: each.level for each in found}
    # The counted criteria hint at the others too, so the product may stand a little higher, never lower.
    symmetry = standing(bench, "symmetry").level
    assert symmetry is not None and by_hand["symmetry"] is not None
    assert by_hand["symmetry"] - 0.02 <= symmetry <= by_hand["symmetry"] + 0.5


def test_a_second_set_moves_the_same_row(bench: Bench):
    make_graded_set(bench)
    first = standing(bench, "isolation")
    make_graded_set(bench, at=STARTED + timedelta(days=3), outcome=Outcome({i: ["STK"] for i in range(7)}))
    second = standing(bench, "isolation")
    assert second.pk == first.pk
    assert second.sets == 2
    clean = standing(bench, "placement").level
    assert second.level is not None and clean is not None and second.level < clean


def correct(bench: Bench, grade: Grade, **levels: int) -> Grade:
    return correct_marks(
        actor=bench.educator,
        uid=grade.practice_set.uid,
        entry=make_entry(levels=levels),
        reason="Three stuck fans were missed.",
        base_revision=1,
        now=STARTED + timedelta(days=1),
    )


def test_a_level_that_a_person_gave_against_the_count_counts_instead_of_it(bench: Bench):
    grade = make_graded_set(bench)
    before = standing(bench, "isolation").level or 0
    correct(bench, grade, isolation=1)
    row = standing(bench, "isolation")
    assert row.sets == 1
    assert row.level is not None and row.level < before
    assert row.level < (standing(bench, "hygiene").level or 0)


def test_a_correction_leaves_the_same_as_if_its_marks_had_been_given_at_first(bench: Bench, cast: Cast):
    corrected = make_graded_set(bench)
    correct(bench, corrected, isolation=1)
    other = Bench(cast.bea, bench.educator, bench.brief, make_head(cast.academy, "Head 2"))
    make_graded_set(other, entry=make_entry(levels={"isolation": 1}))
    now = STARTED + timedelta(days=9)
    for student in (bench.student, other.student):
        refresh_standings(student=student, now=now)
    assert figures(bench) == pytest.approx(figures(other), abs=1e-9)


def test_a_set_signed_late_leaves_the_same_as_if_it_had_been_signed_in_turn(bench: Bench, cast: Cast):
    stuck = Outcome({i: ["STK"] for i in range(3)})
    first = make_inspected_set(bench, outcome=stuck)
    make_graded_set(bench, at=STARTED + timedelta(days=3))
    late = STARTED + timedelta(days=5)
    sign_marks(actor=bench.educator, uid=first.uid, entry=make_entry(), event_uid=uuid4(), now=late)
    other = Bench(cast.bea, bench.educator, bench.brief, make_head(cast.academy, "Head 2"))
    make_graded_set(other, outcome=stuck)
    make_graded_set(other, at=STARTED + timedelta(days=3))
    refresh_standings(student=other.student, now=late)
    assert figures(bench) == pytest.approx(figures(other), abs=1e-9)


def figures(bench: Bench) -> dict[str, float]:
    rows = SkillStanding.objects.filter(student=bench.student)
    return {f"{row.skill_id} {name}": getattr(row, name) for row in rows for name in ("level", "low", "high")}


def test_what_was_shown_at_signing_is_kept_with_its_version_whatever_comes_later(bench: Bench):
    grade = make_graded_set(bench)
    shown = StandingShown.objects.get(grade=grade)
    row = standing(bench, "isolation")
    assert shown.figures["isolation"] == [row.level, row.low, row.high]
    correct(bench, grade, isolation=1)
    make_graded_set(bench, at=STARTED + timedelta(days=3))
    again = StandingShown.objects.get(grade=grade)
    assert (again.figures, again.model_version) == (shown.figures, "state-space-2 defaults-1")
    assert StandingShown.objects.count() == 3  # one for each signature, the correction among them


def test_the_chances_of_being_the_weakest_are_shares_of_one(bench: Bench):
    make_graded_set(bench)
    chances = list(SkillStanding.objects.values_list("chance_weakest", flat=True))
    assert sum(chance or 0 for chance in chances) == pytest.approx(1)


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
