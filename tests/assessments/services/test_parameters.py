"""Parameters are fitted to the marks: the same marks leave everything as it is, new ones make a version."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from academy.models import Academy, RecordIsFinal
from assessments.models import ParameterVersion, SkillStanding, StandingShown
from assessments.selectors.parameters import parameters_in
from assessments.services.parameters import refilter, refit_parameters
from assessments.services.skill import refresh_standings
from tests.factories.academy import Cast, make_member
from tests.factories.assessments import STARTED, Bench, Outcome, make_entry, make_graded_set
from tests.factories.courses import make_head
from tests.factories.second_marks import second_result

LATER = STARTED + timedelta(days=30)
STRICT, MILD = {"closure": 1, "symmetry": 1, "direction": 1}, {"closure": 3, "symmetry": 3, "direction": 3}


def refit(academy: Academy, now: datetime = LATER) -> ParameterVersion:
    made = refit_parameters(academy=academy, seed=1, now=now)
    assert made is not None
    return made


def rows() -> list[Any]:
    names = ("student", "skill", "level", "low", "high", "model_version")
    return list(SkillStanding.objects.order_by("student", "skill").values_list(*names))


def test_without_graded_sets_nothing_is_fitted(cast: Cast):
    assert refit_parameters(academy=cast.academy, seed=1, now=LATER) is None
    assert not ParameterVersion.objects.exists()


def test_a_refit_keeps_a_version_and_brings_every_standing_to_it(bench: Bench):
    make_graded_set(bench)
    made = refit(bench.academy)
    assert (made.number, made.sets, made.students) == (1, 1, 1)
    assert {row[-1] for row in rows()} == {"state-space-2 parameters-1"}
    assert set(parameters_in(made).educators) == {str(bench.educator.pk)}
    assert set(parameters_in(made).briefs) == {str(bench.brief.pk)}


def test_the_same_marks_refitted_leave_everything_as_it_is(bench: Bench):
    make_graded_set(bench)
    first, before = refit(bench.academy), rows()
    assert refit(bench.academy, LATER + timedelta(days=1)) == first
    assert ParameterVersion.objects.count() == 1 and rows() == before


def test_new_marks_make_a_new_version_and_the_old_one_stays(bench: Bench):
    make_graded_set(bench)
    old = refit(bench.academy)
    make_graded_set(bench, at=STARTED + timedelta(days=2))
    new = refit(bench.academy)
    assert (new.number, new.sets) == (2, 2)
    with pytest.raises(RecordIsFinal):
        old.save()


def test_what_was_shown_keeps_its_version_through_a_refit(bench: Bench):
    grade = make_graded_set(bench)
    shown = StandingShown.objects.get(grade=grade).figures
    refit(bench.academy)
    kept = StandingShown.objects.get(grade=grade)
    assert (kept.figures, kept.model_version) == (shown, "state-space-2 defaults-1")


def test_refiltering_in_batches_gives_what_each_student_gets_alone(bench: Bench, cast: Cast, monkeypatch):
    monkeypatch.setattr("assessments.services.parameters.STUDENTS_A_BATCH", 2)
    for number in range(3):
        student = make_member(cast.academy, f"Pupil {number}")
        at_work = Bench(student, bench.educator, bench.brief, make_head(cast.academy, f"Spare {number}"))
        make_graded_set(at_work, outcome=Outcome({i: ["STK"] for i in range(number)}))
    version = refit(bench.academy)
    refilter(academy=bench.academy, version=version, now=LATER)
    together = rows()
    for student in cast.academy.memberships.filter(role="student"):
        refresh_standings(student=student, now=LATER)
    assert len(together) == 3 * 14 and rows() == together


def test_the_stricter_of_two_educators_is_found_when_they_mark_alike_work(bench: Bench, cast: Cast):
    """Severity above 0 is stricter (D. Andrich 1978); the work itself is alike."""
    for number in range(6):
        student = make_member(cast.academy, f"Pupil {number}")
        head = make_head(cast.academy, f"Spare {number}")
        for nth, (educator, levels) in enumerate(((cast.ines, STRICT), (cast.owner, MILD))):
            at_work = Bench(student, educator, bench.brief, head)
            make_graded_set(at_work, at=STARTED + timedelta(days=nth), entry=make_entry(levels=levels))
    educators = parameters_in(refit(bench.academy)).educators
    strict, mild = educators[str(cast.ines.pk)], educators[str(cast.owner.pk)]
    assert strict.value > 0.1 > -0.1 > mild.value
    assert strict.value + mild.value == pytest.approx(0, abs=1e-6)


def test_a_blind_second_mark_links_educators_but_moves_no_standing(bench: Bench, cast: Cast):
    grade = make_graded_set(bench)
    second = second_result(grade, cast.owner)
    before = [row[:5] for row in rows()]
    refresh_standings(student=bench.student, now=grade.signed_at)
    assert [row[:5] for row in rows()] == before
    fitted = parameters_in(refit(bench.academy))
    assert set(fitted.educators) == {str(bench.educator.pk), str(second.signed_by_id)}
