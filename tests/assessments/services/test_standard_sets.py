"""A standard set is an exercise: marked once by each, closed for all; nothing of it reaches the student."""

import pytest

from academy.errors import Conflict, DomainError
from assessments.models import Mark, SkillStanding, StandardLevel, StandardSet
from assessments.services.standard_sets import (
    choose_standard_set,
    close_standard_set,
    mark_standard_set,
    note_on_standard_set,
)
from tests.factories.academy import Cast
from tests.factories.assessments import Bench
from tests.factories.bench import graded_set, inspected_set
from tests.factories.second_marks import LATER, give_second_mark, standard_of


@pytest.fixture
def standard(bench: Bench, cast: Cast) -> StandardSet:
    return standard_of(graded_set(bench), cast.owner)


def test_choosing_the_same_set_twice_makes_one_exercise(standard: StandardSet, cast: Cast):
    assert standard_of(standard.grade, cast.ines) == standard
    assert StandardSet.objects.count() == 1


def test_a_set_without_signed_marks_cannot_be_one(bench: Bench, cast: Cast):
    with pytest.raises(Conflict, match="Sign them first"):
        choose_standard_set(actor=cast.owner, practice_set=inspected_set(bench), why="", now=LATER)


def test_a_set_that_waits_for_its_blind_mark_cannot_be_one(bench: Bench, cast: Cast):
    grade = graded_set(bench)
    give_second_mark(grade, cast.second)
    with pytest.raises(Conflict, match="blind second mark"):
        standard_of(grade, cast.owner)


def test_each_educator_marks_once_and_the_students_marks_stay(standard: StandardSet, cast: Cast):
    before = list(Mark.objects.values()), list(SkillStanding.objects.values())
    for who, level in ((cast.ines, 1), (cast.second, 3)):
        mark_standard_set(actor=who, standard=standard, levels={"wrap": level}, now=LATER)
    with pytest.raises(Conflict, match="marked this standard set already"):
        mark_standard_set(actor=cast.ines, standard=standard, levels={"wrap": 2}, now=LATER)
    assert sorted(StandardLevel.objects.values_list("level", flat=True)) == [1, 3]
    assert (list(Mark.objects.values()), list(SkillStanding.objects.values())) == before


@pytest.mark.parametrize("levels", [{}, {"time": 3}, {"no-such": 2}])
def test_at_least_one_criterion_that_can_be_seen_needs_a_level(standard: StandardSet, cast: Cast, levels):
    with pytest.raises(DomainError, match="at least one"):
        mark_standard_set(actor=cast.ines, standard=standard, levels=levels, now=LATER)


def test_a_closed_exercise_takes_no_more_marks_but_notes(standard: StandardSet, cast: Cast):
    for _ in range(2):
        assert close_standard_set(actor=cast.owner, standard=standard, now=LATER).closed_at == LATER
    standard.refresh_from_db()
    with pytest.raises(Conflict, match="closed"):
        mark_standard_set(actor=cast.ines, standard=standard, levels={"wrap": 2}, now=LATER)
    note_on_standard_set(actor=cast.ines, standard=standard, text=" Open bases count. ", now=LATER)
    assert [note.text for note in standard.notes.all()] == ["Open bases count."]
