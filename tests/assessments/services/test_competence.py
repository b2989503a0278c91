"""Rules change by versions; what was decided stays on record, whatever the rules become."""

from datetime import timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from academy.models import AuditEntry, RecordIsFinal
from assessments.models import CompetenceDecision, CompetenceRule, CompetenceStanding, MasteryRule
from assessments.scoring.programme_rules import PRESETS
from assessments.selectors.competence import competence_of
from assessments.services.competence import (
    RuleCannotBe,
    change_mastery,
    change_rule,
    ensure_rules,
    refresh_academy,
    refresh_competence,
)
from assessments.services.marking import correct_marks
from courses.models import Skill
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED, Bench, make_entry
from tests.factories.competence import passes_in_a_row, set_rule, sets_at

LATER = STARTED + timedelta(days=30)
RECORD = ("pk", "kind", "rule", "practice_set", "withdraws", "words", "attained", "at")


def decisions(bench: Bench) -> list[tuple[str, int]]:
    rows = CompetenceDecision.objects.filter(student=bench.student, skill__code="isolation")
    return [(row.kind, row.practice_set.number) for row in rows.select_related("practice_set")]


def standing(bench: Bench, skill: str = "isolation") -> CompetenceStanding:
    return CompetenceStanding.objects.get(student=bench.student, skill__code=skill)


def correct(bench: Bench, grade, level: int) -> None:
    correct_marks(
        actor=bench.educator,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"isolation": level}),
        reason="Seen again with the loupe.",
        base_revision=1,
        now=LATER,
    )


class TestRules:
    def test_the_defaults_are_saved_once(self, bench: Bench):
        for _ in range(2):
            ensure_rules(academy=bench.academy, now=STARTED)
        assert CompetenceRule.objects.filter(academy=bench.academy).count() == 4
        assert MasteryRule.objects.get(academy=bench.academy).number == 1

    def test_a_change_is_a_new_version_with_its_audit(self, bench: Bench, cast: Cast):
        rule = set_rule(cast.owner, passes_in_a_row(3))
        assert (rule.number, rule.made_by) == (2, cast.owner)
        entry = AuditEntry.objects.get(action="change_rule")
        assert entry.before == PRESETS["short_course"] and entry.after == passes_in_a_row(3)

    def test_the_same_data_change_nothing(self, bench: Bench, cast: Cast):
        set_rule(cast.owner, passes_in_a_row(3))
        assert set_rule(cast.owner, passes_in_a_row(3)).number == 2
        assert AuditEntry.objects.filter(action="change_rule").count() == 1

    def test_a_version_never_changes(self, bench: Bench, cast: Cast):
        rule = set_rule(cast.owner, passes_in_a_row(3))
        for change in (rule.save, rule.delete, CompetenceRule.objects.all().delete):
            with pytest.raises(RecordIsFinal):
                change()

    @pytest.mark.parametrize(
        ("programme", "field"),
        [({}, "rule"), ({"rule": {"kind": "luck"}}, "kind"), (passes_in_a_row(30), "horizon")],
    )
    def test_data_that_make_no_rule_are_refused(self, bench: Bench, cast: Cast, programme, field):
        with pytest.raises(RuleCannotBe) as refused:
            set_rule(cast.owner, programme)
        assert refused.value.details["field"] == field
        assert not CompetenceRule.objects.filter(number=2).exists()

    def test_mastery_conditions_change_by_versions_too(self, bench: Bench, cast: Cast):
        rule = change_mastery(academy=bench.academy, conditions={"sets": 5}, actor=cast.owner, now=STARTED)
        assert rule.number == 2
        same = change_mastery(academy=bench.academy, conditions={"sets": 5}, actor=cast.owner, now=LATER)
        assert same == rule
        with pytest.raises(RuleCannotBe):
            change_mastery(academy=bench.academy, conditions={"sets": 0}, actor=cast.owner, now=LATER)

    def test_a_new_rule_is_tried_on_everybody_once_it_is_saved(
        self, bench: Bench, cast: Cast, django_capture_on_commit_callbacks
    ):
        sets_at(bench, [3, 3])
        assert standing(bench).status == "collecting"
        with django_capture_on_commit_callbacks(execute=True):
            set_rule(cast.owner, passes_in_a_row(2))
        assert standing(bench).status == "competent"


class TestDecisions:
    def test_signing_records_where_every_gate_skill_stands(self, bench: Bench):
        sets_at(bench, [3])
        rows = CompetenceStanding.objects.filter(student=bench.student)
        assert {(row.skill.code, row.status, row.sets_left) for row in rows} == {
            (code, "collecting", 6) for code in ("isolation", "placement", "hygiene", "product")
        }

    def test_seven_clean_sets_declare_by_the_short_course(self, bench: Bench):
        sets_at(bench, [3] * 7)
        assert decisions(bench) == [("declared", 7)]
        row = CompetenceDecision.objects.filter(skill__code="isolation").get()
        # A student who fails half of her sets passes seven in a row once in 128.
        assert row.attained == pytest.approx(1 / 128)
        assert row.rule.number == 1

    def test_a_slip_is_recorded_and_a_second_declaration_after_it(self, bench: Bench, cast: Cast):
        set_rule(cast.owner, passes_in_a_row(2))
        sets_at(bench, [3, 3, 1])
        assert decisions(bench) == [("declared", 2), ("review", 3)]
        assert standing(bench).status == "review"
        sets_at(bench, [3, 3], first=STARTED + timedelta(days=8))
        assert decisions(bench) == [("declared", 2), ("review", 3), ("declared", 5)]
        assert standing(bench).status == "competent"

    def test_refreshing_twice_adds_nothing(self, bench: Bench, cast: Cast):
        set_rule(cast.owner, passes_in_a_row(2))
        sets_at(bench, [3, 3, 1])
        before = list(CompetenceDecision.objects.values(*RECORD))
        refresh_academy(academy=bench.academy, now=LATER)
        assert list(CompetenceDecision.objects.values(*RECORD)) == before

    def test_corrected_marks_withdraw_what_they_no_longer_bear(self, bench: Bench, cast: Cast):
        set_rule(cast.owner, passes_in_a_row(2))
        first, _ = sets_at(bench, [3, 3])
        correct(bench, first, 1)
        assert decisions(bench) == [("declared", 2), ("withdrawn", 2)]
        assert standing(bench).status == "collecting"
        assert CompetenceDecision.objects.get(kind="withdrawn", skill__code="isolation").withdraws is not None
        refresh_competence(student=bench.student, now=LATER)
        assert len(decisions(bench)) == 2

    def test_after_a_withdrawal_the_rest_may_declare_again(self, bench: Bench, cast: Cast):
        set_rule(cast.owner, passes_in_a_row(2))
        first, _, _ = sets_at(bench, [3, 3, 3])
        correct(bench, first, 1)
        assert decisions(bench) == [("declared", 2), ("withdrawn", 2), ("declared", 3)]

    def test_a_correction_that_changes_nothing_about_it_leaves_the_declaration(
        self, bench: Bench, cast: Cast
    ):
        set_rule(cast.owner, passes_in_a_row(2))
        first, _ = sets_at(bench, [3, 3])
        correct(bench, first, 2)
        assert decisions(bench) == [("declared", 2)]

    def test_a_decision_never_changes(self, bench: Bench, cast: Cast):
        set_rule(cast.owner, passes_in_a_row(1))
        sets_at(bench, [3])
        row = CompetenceDecision.objects.filter(skill__code="isolation").get()
        for change in (row.save, row.delete, CompetenceDecision.objects.all().delete):
            with pytest.raises(RecordIsFinal):
                change()


PROGRAMMES = [*PRESETS.values(), passes_in_a_row(1), passes_in_a_row(5, watch=None)]


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(chosen=st.lists(st.sampled_from(PROGRAMMES), min_size=1, max_size=3))
def test_no_rule_change_alters_a_declaration_on_record(bench: Bench, cast: Cast, chosen):
    """Whatever the owner chooses afterwards: the rows are the same, and the student stays declared."""
    if not CompetenceDecision.objects.exists():
        set_rule(cast.owner, passes_in_a_row(2))
        sets_at(bench, [3, 3, 3])
    before = list(CompetenceDecision.objects.filter(skill__code="isolation").values(*RECORD))
    with transaction.atomic():
        for nth, programme in enumerate(chosen):
            change_rule(
                academy=bench.academy,
                skill=Skill.objects.get(code="isolation"),
                programme=dict(programme),
                actor=cast.owner,
                now=LATER + timedelta(days=nth),
            )
            refresh_academy(academy=bench.academy, now=LATER + timedelta(days=nth))
        assert list(CompetenceDecision.objects.filter(skill__code="isolation").values(*RECORD)) == before
        found = next(each for each in competence_of(bench.student).skills if each.skill.code == "isolation")
        assert (found.status, found.rule.number) == ("competent", 2)
        transaction.set_rollback(True)
