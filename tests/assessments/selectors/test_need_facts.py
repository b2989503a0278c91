from datetime import timedelta

import pytest

from assessments.models import CompetenceStanding, DrillCount, NeedRules
from assessments.scoring.need_rules import NeedRules as Rules
from assessments.selectors.grades import marks_that_count
from assessments.selectors.need_facts import answers, open_need_facts, rules_of, skill_facts
from assessments.selectors.parameters import newest_parameters
from assessments.selectors.skill import reckoning
from assessments.services.needs import record_drill_count
from courses.models import Skill
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, Outcome, make_entry, make_graded_set
from tests.factories.needs import make_need

DAY = timedelta(days=1)


def facts(cast: Cast, now=STARTED + DAY):
    marks, skills = list(marks_that_count(cast.ada)), list(Skill.objects.all())
    found = reckoning(marks, skills, newest_parameters(cast.academy), now=now)
    rows = skill_facts(cast.ada, marks, skills, found, Rules(), now=now)
    return {each.code: each for each in rows}


def test_an_academy_without_a_row_has_the_defaults_and_the_newest_row_counts(cast: Cast):
    assert rules_of(cast.academy) == Rules()
    for number, days in ((1, 30), (2, 40)):
        NeedRules.objects.create(
            academy=cast.academy, number=number, rules={"refresher_days": days}, made_at=STARTED
        )
    assert rules_of(cast.academy).refresher_days == 40
    assert rules_of(cast.other_academy).refresher_days == 60


def test_each_set_says_whether_it_reached_the_target_and_which_gate_it_missed(bench: Bench, cast: Cast):
    make_graded_set(bench, entry=make_entry(levels={"isolation": 1}))
    make_graded_set(bench, at=STARTED + DAY, entry=make_entry(levels={"isolation": 3}))
    first, second = facts(cast, STARTED + 2 * DAY)["isolation"].sets
    assert (first.passed, first.failed) == (False, "Isolation was level 1 in set 1; the gate needs 2.")
    assert (second.passed, second.failed) == (True, "")
    assert first.day == STARTED.date() and second.signed_at > first.signed_at


def test_before_the_first_set_there_are_no_facts(bench: Bench, cast: Cast):
    assert facts(cast) == {}


def test_a_level_that_is_below_already_does_not_fade(bench: Bench, cast: Cast):
    make_graded_set(bench, entry=make_entry(levels={"isolation": 1}))
    assert facts(cast)["isolation"].fades_on is None


def test_a_skill_in_review_is_told(bench: Bench, cast: Cast):
    make_graded_set(bench)
    assert not facts(cast)["isolation"].in_review
    CompetenceStanding.objects.filter(student=cast.ada, skill__code="isolation").update(status="review")
    assert facts(cast)["isolation"].in_review


def test_only_what_was_counted_in_its_drill_since_it_was_raised_counts(cast: Cast):
    mine = make_need(cast.ada, cast.ines)
    assert mine.drill
    for at, clean in ((STARTED - DAY, 7), (STARTED + DAY, 5), (STARTED + 2 * DAY, 4)):
        last = DrillCount.objects.create(
            student=cast.ada, drill=mine.drill, done=9, clean_count=clean, recorded_by=cast.ines, at=at
        )
    (found,) = open_need_facts(cast.ada, [mine])
    assert (found.counted, found.count, found.count_target) == (9, last.pk, 20)


def test_when_a_drill_last_closed_a_need_is_remembered(bench: Bench, cast: Cast):
    make_graded_set(bench, at=STARTED - DAY)
    nth = [skill.code for skill in Skill.objects.all()].index("isolation")
    record_drill_count(
        need=make_need(cast.ada, cast.ines, nth), done=20, clean_count=20, actor=cast.ines, now=STARTED + DAY
    )
    assert facts(cast, STARTED + 2 * DAY)["isolation"].drilled_at == STARTED + DAY


class TestTheDrill:
    def answer(self, cast: Cast):
        return answers(list(marks_that_count(cast.ada)), ["isolation"])["isolation"]

    @pytest.mark.parametrize("fault", ["STK", "DBL"])
    def test_it_is_that_of_the_worst_fault_found(self, bench: Bench, cast: Cast, fault):
        make_graded_set(bench, outcome=Outcome(faults={n: [fault] for n in range(6)}))
        assert self.answer(cast).drill.faults.filter(code=fault).exists()

    def test_without_a_fault_it_is_that_of_the_first_fault_of_the_skill(self, bench: Bench, cast: Cast):
        make_graded_set(bench)
        assert self.answer(cast).drill.faults.filter(skill__code="isolation").exists()

    def test_the_educators_own_count_stays(self, bench: Bench, cast: Cast):
        make_graded_set(bench)
        code = self.answer(cast).drill.code
        make_graded_set(bench, at=STARTED + DAY, entry=make_entry(drill=code, count=33))
        assert self.answer(cast).count == 33

    def test_a_skill_without_faults_has_none(self, bench: Bench, cast: Cast):
        make_graded_set(bench)
        assert "time" not in answers(list(marks_that_count(cast.ada)), ["time"])
