"""Between what was shown and what is shown now every tenth has its cause."""

from datetime import timedelta

import pytest

from academy.errors import NotHere
from assessments.selectors.skill_changes import Change, Changes, changes_of
from assessments.services.marking import correct_marks
from assessments.services.parameters import refit_parameters
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, Outcome, make_entry, make_graded_set
from tests.factories.courses import make_head

DAY = timedelta(days=1)
STUCK = Outcome(faults={index: ["STK"] for index in range(7)})


def line(changes: Changes, name: str = "Isolation") -> Change:
    return next(each for each in changes.lines if each.name == name)


def adds_up(change: Change) -> bool:
    steps = (change.by_parameters, change.by_corrections, change.by_new_sets, change.by_rest)
    return change.then is not None and round(change.then + sum(steps), 1) == change.now


def test_before_the_first_signature_there_is_nothing_to_compare(cast: Cast):
    found = changes_of(cast.ada, None, now=STARTED)
    assert found.since is None and found.lines == ()


def test_on_the_same_day_with_the_same_marks_nothing_has_moved(bench: Bench):
    grade = make_graded_set(bench)
    found = changes_of(bench.student, grade.pk, now=grade.signed_at)
    assert not found.has_moved
    assert line(found).words.endswith("nothing has moved it.")


def test_a_correction_is_told_as_one_and_as_nothing_else(bench: Bench):
    grade = make_graded_set(bench)
    correct_marks(
        actor=bench.educator,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"isolation": 0}),
        reason="looked again",
        base_revision=1,
        now=grade.signed_at + timedelta(hours=1),
    )
    change = line(changes_of(bench.student, grade.pk, now=grade.signed_at + timedelta(hours=2)))
    assert change.by_corrections < 0
    assert (change.by_parameters, change.by_new_sets, change.by_rest) == (0, 0, 0)
    assert adds_up(change) and "from corrected marks" in change.words


def test_a_new_set_and_the_days_after_it_are_told_apart(bench: Bench):
    grade = make_graded_set(bench)
    make_graded_set(bench, at=STARTED + DAY)
    found = changes_of(bench.student, grade.pk, now=STARTED + 200 * DAY)
    change = line(found, "Direction")
    assert change.by_new_sets > 0 > change.by_rest
    assert change.by_corrections == 0 and all(adds_up(each) for each in found.lines)


def test_new_parameters_are_told_as_such_with_both_versions(bench: Bench, cast: Cast):
    grade = make_graded_set(bench, outcome=STUCK)
    make_graded_set(Bench(cast.bea, cast.owner, bench.brief, make_head(cast.academy, "Spare")))
    refit_parameters(academy=cast.academy, seed=1, now=grade.signed_at)
    found = changes_of(bench.student, grade.pk, now=grade.signed_at)
    assert (found.version_then, found.model_version) == (
        "state-space-2 defaults-1",
        "state-space-2 parameters-1",
    )
    assert any(each.by_parameters for each in found.lines)
    assert all(each.by_corrections == each.by_new_sets == 0 for each in found.lines)
    assert all(adds_up(each) for each in found.lines)


def test_without_a_choice_it_looks_back_past_the_latest_set(bench: Bench):
    first = make_graded_set(bench)
    make_graded_set(bench, at=STARTED + DAY)
    found = changes_of(bench.student, None, now=STARTED + 2 * DAY)
    assert found.since == first and len(found.choices) == 2


def test_a_signing_of_somebody_else_is_not_here(bench: Bench, cast: Cast):
    grade = make_graded_set(bench)
    make_graded_set(Bench(cast.bea, cast.ines, bench.brief, make_head(cast.academy, "Spare")))
    with pytest.raises(NotHere):
        changes_of(cast.bea, grade.pk, now=STARTED + DAY)


def test_four_queries_whatever_the_number_of_sets(bench: Bench, django_assert_num_queries):
    for nth in range(3):
        make_graded_set(bench, at=STARTED + nth * DAY)
    with django_assert_num_queries(4):
        changes_of(bench.student, None, now=STARTED + 9 * DAY)
