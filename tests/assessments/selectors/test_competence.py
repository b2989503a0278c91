"""What the marks of one student decide, gathered from her graded sets."""

from datetime import timedelta

import pytest

from academy.models import Membership
from assessments.models import Grade, Inspection, SecondMark
from assessments.scoring.programme_rules import PRESETS
from assessments.selectors import competence
from assessments.selectors.competence import competence_of, graded_sets
from assessments.services.marking import correct_marks
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, Outcome, make_entry, make_graded_set
from tests.factories.competence import passes_in_a_row, set_rule, sets_at


def of(bench: Bench, skill: str = "isolation"):
    return next(each for each in competence_of(bench.student).skills if each.skill.code == skill)


def line(bench: Bench, code: str):
    return next(each for each in competence_of(bench.student).mastery.lines if each.code == code)


def test_a_newcomer_has_nothing_decided(bench: Bench):
    found = competence_of(bench.student)
    assert (found.declared, found.is_complete) == (0, False)
    # Seven clean sets: 4 / ln(0.9 / 0.5) = 6.8
    assert all((each.status, each.sets_left) == ("collecting", 7) for each in found.skills)


def test_a_set_fails_when_a_gate_criterion_stays_under_its_level(bench: Bench):
    """The starter rubric asks level 2 of isolation."""
    sets_at(bench, [2, 1, 3, 0])
    assert [each.kind for each in of(bench).outcomes] == ["passed", "failed", "passed", "failed"]
    assert [each.kind for each in of(bench, "hygiene").outcomes] == ["passed"] * 4


def test_the_newest_revision_counts(bench: Bench):
    (grade,) = sets_at(bench, [1])
    correct_marks(
        actor=bench.educator,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"isolation": 3}),
        reason="The other eye was meant.",
        base_revision=1,
        now=STARTED + timedelta(days=1),
    )
    assert [each.kind for each in of(bench).outcomes] == ["passed"]


def test_counts_are_of_the_counted_gate_criterion(bench: Bench, cast: Cast):
    """Two stuck fans of the 40 drawn; a misshapen one is no gate fault."""
    set_rule(cast.owner, dict(PRESETS["fan_counts"]))
    make_graded_set(bench, outcome=Outcome(faults={0: ["STK"], 4: ["STK"], 9: ["CLF"]}))
    (outcome,) = of(bench).outcomes
    assert (outcome.faults, outcome.inspected) == (2, 40)
    assert of(bench).counts_fans and "fan" in of(bench).stated.words
    assert line(bench, "faults").words.startswith("2 of 40 fans with a gate fault")


def test_an_educator_with_figures_is_corrected_for(bench: Bench, monkeypatch: pytest.MonkeyPatch):
    """One logit of leniency makes the passes of the same marks worth less: more sets are needed."""

    class Lenient:
        is_known = True

        def shift(self, judged, rates):
            assert (judged.educator, judged.cut) == (bench.educator.pk, 2)
            return -1.0

    sets_at(bench, [3, 3, 3])
    plain = of(bench).standing.decision
    monkeypatch.setattr(competence, "correction_of", lambda academy: Lenient())
    corrected = of(bench).standing.decision
    assert corrected.progress < plain.progress
    assert competence_of(bench.student).is_corrected


def test_a_drill_set_with_the_marks_is_the_teaching_on_record(bench: Bench):
    make_graded_set(bench, entry=make_entry(drill="hold-and-check"))
    make_graded_set(bench, at=STARTED + timedelta(days=2), entry=make_entry(drill=""))
    make_graded_set(bench, at=STARTED + timedelta(days=4))
    assert ["isolation" in each.taught for each in graded_sets(bench.student)] == [False, True, False]


def test_a_declaration_says_its_risks_and_then_is_watched(bench: Bench, cast: Cast):
    set_rule(cast.owner, passes_in_a_row(2))
    sets_at(bench, [3, 3, 3])
    found = of(bench)
    assert found.status == "competent" and found.words.startswith("Competent after 2 sets: 0 of 2 failed.")
    # Two passes of a student who fails half of her sets: one in four.
    assert found.attained_words == "25 %"
    assert found.watch_share == 0


def test_work_that_slips_goes_to_review_and_the_page_names_the_set(bench: Bench, cast: Cast):
    set_rule(cast.owner, passes_in_a_row(2))
    sets_at(bench, [3, 3, 1])
    found = of(bench)
    assert found.status == "review"
    assert found.words.startswith("Work slipped at set 3, so the rule starts again.")


def second_mark(grade: Grade, educator: Membership, state: str) -> None:
    """The row as signing or waiving leaves it."""
    inspection = Inspection.objects.create(
        practice_set=grade.practice_set,
        inspector=educator,
        is_blind=True,
        seed=1,
        plan={},
        opened_at=STARTED,
    )
    SecondMark.objects.create(
        practice_set=grade.practice_set,
        inspection=inspection,
        assigned_to=educator,
        state=state,
        reason="on leave" if state == "waived" else "",
        chosen_at=STARTED,
        closed_at=None if state == "open" else STARTED,
    )


@pytest.mark.parametrize(("state", "met"), [("open", False), ("waived", False), ("done", True)])
def test_a_blind_second_mark_meets_its_condition_once_it_is_signed(
    bench: Bench, cast: Cast, state: str, met: bool
):
    second_mark(sets_at(bench, [3, 3, 3])[-1], cast.second, state)
    assert line(bench, "blind").met == met


def test_everything_met_is_complete(bench: Bench, cast: Cast):
    for skill in ("isolation", "placement", "hygiene", "product"):
        set_rule(cast.owner, passes_in_a_row(2), skill=skill)
    second_mark(sets_at(bench, [3, 3, 3])[-1], cast.second, "done")
    found = competence_of(bench.student)
    assert [each.code for each in found.mastery.lines if not each.met] == []
    assert (found.declared, found.is_complete) == (4, True)


def test_it_costs_the_same_whatever_the_number_of_sets(bench: Bench, django_assert_num_queries):
    sets_at(bench, [3])
    with django_assert_num_queries(10):
        competence_of(bench.student)
    sets_at(bench, [3, 3], first=STARTED + timedelta(days=2))
    with django_assert_num_queries(10):
        competence_of(bench.student)
