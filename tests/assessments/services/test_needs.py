from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assessments.models import DrillCount, Need, NeedRules
from assessments.services.marking import correct_marks
from assessments.services.needs import (
    CountCannotBe,
    NeedAlreadyOpen,
    NeedCannotBe,
    NeedRuleCannotBe,
    NotHerEducator,
    WantedNeed,
    change_need_rules,
    raise_need,
    record_drill_count,
    refresh_academy_needs,
    refresh_needs,
)
from assessments.tasks import refresh_all_needs
from courses.models import Drill, Skill
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, make_entry, make_graded_set
from tests.factories.needs import make_need

DAY = timedelta(days=1)
GATES = ("isolation", "placement", "hygiene", "product")


def later(days: float):
    return STARTED + days * DAY


def opened(cast: Cast, kind: str) -> Need:
    return Need.objects.get(student=cast.ada, kind=kind, closed_at=None)


def failed(bench: Bench, days: float = 0):
    """Isolation at level 1, which the gate does not let pass."""
    return make_graded_set(bench, at=later(days), entry=make_entry(levels={"isolation": 1}))


def test_a_failed_gate_raises_its_need_in_the_transaction_of_the_signature(bench: Bench, cast: Cast):
    grade = failed(bench)
    need = opened(cast, "failed_gate")
    assert (need.skill.code, need.raised_from) == ("isolation", grade.practice_set)
    assert need.raised_at == grade.signed_at
    assert need.due_on == grade.practice_set.finished_at.date() + 7 * DAY
    assert "the gate needs 2" in need.reason
    assert need.drill is not None and need.count_target


def test_the_drill_is_that_of_a_fault_of_the_skill(bench: Bench, cast: Cast):
    failed(bench)
    need = opened(cast, "failed_gate")
    assert need.drill and need.drill.faults.filter(skill=need.skill).exists()


def test_the_next_set_that_passes_the_gate_closes_it_and_is_named_as_evidence(bench: Bench, cast: Cast):
    failed(bench)
    passed = make_graded_set(bench, at=later(3))
    need = Need.objects.get(kind="failed_gate")
    assert (need.closed_by_grade, need.closed_by_count) == (passed, None)
    assert need.closed_at == passed.signed_at


def test_a_correction_is_evidence_too(bench: Bench, cast: Cast):
    grade = failed(bench)
    corrected = correct_marks(
        actor=cast.ines,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"isolation": 3}),
        reason="The wrong fan was looked at",
        base_revision=1,
        now=later(1),
    )
    assert Need.objects.get(kind="failed_gate").closed_by_grade == corrected


def test_failing_again_renews_the_need_and_raises_no_second_one(bench: Bench, cast: Cast):
    failed(bench)
    before = opened(cast, "failed_gate")
    failed(bench, 5)
    need = opened(cast, "failed_gate")
    assert need.pk == before.pk
    assert need.due_on == before.due_on + 5 * DAY
    assert "set 2" in need.reason


def test_time_alone_raises_a_refresher_in_the_night(bench: Bench, cast: Cast):
    make_graded_set(bench, entry=make_entry(levels=dict.fromkeys(GATES, 2)))  # no success, so no retest
    refresh_academy_needs(academy=cast.academy, now=later(59))
    assert not Need.objects.filter(kind="idle").exists()
    refresh_academy_needs(academy=cast.academy, now=later(61))
    assert "refresher" in opened(cast, "idle").reason


def test_the_timetable_reaches_every_academy(bench: Bench, cast: Cast, django_capture_on_commit_callbacks):
    """The task reads the clock, which is months after the set."""
    make_graded_set(bench)
    with django_capture_on_commit_callbacks(execute=True):
        refresh_all_needs()
    assert Need.objects.filter(student=cast.ada, closed_at=None).exists()


def test_refreshing_again_changes_nothing(bench: Bench, cast: Cast):
    failed(bench)
    first = list(Need.objects.values())
    refresh_needs(student=cast.ada, now=later(1))
    assert list(Need.objects.values()) == first


def test_it_costs_as_many_queries_for_twenty_sets_as_for_two(bench: Bench, cast: Cast):
    def cost(days: float) -> int:
        with CaptureQueriesContext(connection) as asked:
            refresh_needs(student=cast.ada, now=later(days))
        return len(asked)

    for nth in range(2):
        make_graded_set(bench, at=later(nth))
    refresh_needs(student=cast.ada, now=later(2))
    few = cost(2)
    for nth in range(2, 8):
        make_graded_set(bench, at=later(nth))
    assert cost(8) <= few


class TestByHand:
    def wanted(self, **changes) -> WantedNeed:
        plain = WantedNeed(
            skill=Skill.objects.get(code="isolation"),
            reason="Before the live-model day",
            due_on=later(5).date(),
            drill=Drill.objects.get(code="hold-and-check"),
        )
        return replace(plain, **changes)

    def test_it_takes_the_drills_own_count_unless_another_is_given(self, bench: Bench, cast: Cast):
        need = raise_need(student=cast.ada, wanted=self.wanted(), actor=cast.ines, now=STARTED)
        assert (need.count_target, need.raised_by, need.kind) == (20, cast.ines, "by_hand")

    def test_twice_is_told_in_a_sentence(self, bench: Bench, cast: Cast):
        raise_need(student=cast.ada, wanted=self.wanted(), actor=cast.ines, now=STARTED)
        with pytest.raises(NeedAlreadyOpen):
            raise_need(student=cast.ada, wanted=self.wanted(), actor=cast.ines, now=STARTED)

    @pytest.mark.parametrize(
        ("changes", "field"),
        [
            ({"reason": "  "}, "reason"),
            ({"due_on": date(2020, 1, 1)}, "due_on"),
            ({"priority": 6}, "priority"),
        ],
    )
    def test_what_cannot_be_is_refused_beside_its_field(self, bench: Bench, cast: Cast, changes, field):
        with pytest.raises(NeedCannotBe) as refused:
            raise_need(student=cast.ada, wanted=self.wanted(**changes), actor=cast.ines, now=STARTED)
        assert refused.value.details["field"] == field

    @pytest.mark.parametrize("who", ["ada", "omar"])
    def test_neither_a_student_nor_a_stranger_asks(self, bench: Bench, cast: Cast, who):
        with pytest.raises(NotHerEducator):
            raise_need(student=cast.ada, wanted=self.wanted(), actor=getattr(cast, who), now=STARTED)


class TestCounting:
    def test_counts_add_up_and_the_last_one_closes(self, bench: Bench, cast: Cast):
        need = make_need(cast.ada, cast.ines)
        record_drill_count(need=need, done=15, clean_count=12, actor=cast.ines, now=later(1))
        need.refresh_from_db()
        assert need.closed_at is None
        last = record_drill_count(need=need, done=10, clean_count=8, actor=cast.second, now=later(2))
        need.refresh_from_db()
        assert (need.closed_by_count, need.closed_by_grade) == (last, None)

    def test_what_was_counted_before_the_need_does_not_count(self, bench: Bench, cast: Cast):
        need = make_need(cast.ada, cast.ines)
        assert need.drill
        DrillCount.objects.create(
            student=cast.ada, drill=need.drill, done=50, clean_count=50, recorded_by=cast.ines, at=later(-1)
        )
        refresh_needs(student=cast.ada, now=later(1))
        need.refresh_from_db()
        assert need.closed_at is None

    def test_a_failed_gate_is_counted_but_takes_a_set(self, bench: Bench, cast: Cast):
        failed(bench)
        need = opened(cast, "failed_gate")
        record_drill_count(need=need, done=99, clean_count=99, actor=cast.ines, now=later(1))
        need.refresh_from_db()
        assert need.closed_at is None

    @pytest.mark.parametrize(("done", "clean"), [(0, 0), (5, 6), (5, -1)])
    def test_counts_that_cannot_be_are_refused(self, bench: Bench, cast: Cast, done, clean):
        need = make_need(cast.ada, cast.ines)
        with pytest.raises(CountCannotBe):
            record_drill_count(need=need, done=done, clean_count=clean, actor=cast.ines, now=later(1))

    @pytest.mark.parametrize("who", ["ada", "omar"])
    def test_nobody_counts_her_own_or_a_strangers(self, bench: Bench, cast: Cast, who):
        need = make_need(cast.ada, cast.ines)
        with pytest.raises(NotHerEducator):
            record_drill_count(need=need, done=9, clean_count=9, actor=getattr(cast, who), now=later(1))
        assert not DrillCount.objects.exists()


class TestRules:
    def test_a_change_is_the_next_version_and_the_same_changes_nothing(self, cast: Cast):
        first = change_need_rules(
            academy=cast.academy, rules={"refresher_days": 30}, actor=cast.owner, now=STARTED
        )
        again = change_need_rules(
            academy=cast.academy, rules={"refresher_days": 30}, actor=cast.owner, now=STARTED
        )
        second = change_need_rules(academy=cast.academy, rules={}, actor=cast.owner, now=STARTED)
        assert (first.number, again.pk, second.number) == (1, first.pk, 2)

    def test_what_cannot_be_is_refused_and_nothing_is_saved(self, cast: Cast):
        with pytest.raises(NeedRuleCannotBe) as refused:
            change_need_rules(academy=cast.academy, rules={"drill_days": 0}, actor=cast.owner, now=STARTED)
        assert refused.value.details["field"] == "drill_days"
        assert not NeedRules.objects.exists()

    def test_they_count_for_what_is_raised_from_then_on(self, bench: Bench, cast: Cast):
        change_need_rules(academy=cast.academy, rules={"refresher_days": 10}, actor=cast.owner, now=STARTED)
        make_graded_set(bench)
        refresh_needs(student=cast.ada, now=later(11))
        assert "after 10" in opened(cast, "idle").reason
