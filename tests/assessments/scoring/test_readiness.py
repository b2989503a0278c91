"""All conditions together: which are asked, when all are met, and what both people sign."""

from dataclasses import replace

import pytest

from assessments.scoring.gate_rules import CertificateRules, GateRules
from assessments.scoring.readiness import basis_of, is_met, judge_certificate, judge_gate
from assessments.scoring.readiness_facts import ConsentFact, HoursFact, SkillFact, UnitFact
from tests.assessments.scoring.readiness_facts import (
    a_mastery_set,
    a_set,
    days_later,
    facts,
    mastery,
)

EVERYTHING = GateRules(theory_hours=8, practical_hours=10, graded_sets=3)
NOTHING = GateRules(
    theory_units=False, hygiene_sets=0, competence=False, mastery=False, blind_mark=False, consent=()
)
CODES = [
    *("units", "theory_hours", "practical_hours", "graded_sets", "hygiene", "competence"),
    *("mastery", "blind_mark", "consent_assessment_record", "recent"),
]
# One thing taken away from a student who has everything.
FALLEN = {
    "units": {"units": [UnitFact("hygiene", "Hygiene", True, False)]},
    "theory_hours": {"hours": HoursFact(theory=479, practical=60, clock=540)},
    "practical_hours": {"hours": HoursFact(theory=480, practical=60, clock=539)},
    "graded_sets": {"graded": 2},
    "hygiene": {"sets": [a_set(1), a_set(2), a_set(3, missed=("waste sorted",))]},
    "competence": {"skills": [SkillFact("isolation", "Isolation", False, "in review", "7")]},
    "mastery": {"mastery": mastery(a_mastery_set(1), a_mastery_set(2, gates_passed=False), a_mastery_set(3))},
    "blind_mark": {"mastery": mastery(a_mastery_set(1), a_mastery_set(2), a_mastery_set(4))},
    "consent_assessment_record": {"consents": {"assessment_record": ConsentFact("Assessment record")}},
    "recent": {"now": days_later(100)},
}


def test_everything_asked_for_is_a_condition_in_its_order():
    assert [each.code for each in judge_gate(facts(), EVERYTHING)] == CODES


def test_a_student_who_has_everything_meets_the_gate():
    assert is_met(judge_gate(facts(), EVERYTHING))


@pytest.mark.parametrize("code", CODES)
def test_any_one_condition_alone_keeps_the_gate_shut(code):
    judged = judge_gate(facts(**FALLEN[code]), EVERYTHING)
    assert [each.code for each in judged if not each.met] == [code]
    assert not is_met(judged)
    (unmet,) = [each for each in judged if not each.met]
    assert unmet.way


def test_what_the_programme_does_not_ask_for_is_no_condition():
    assert [each.code for each in judge_gate(facts(), NOTHING)] == ["recent"]


def test_only_units_before_a_live_model_count_for_the_gate():
    later = facts(
        units=[UnitFact("hygiene", "Hygiene", True, True), UnitFact("infill", "Infill", False, None)]
    )
    assert is_met(judge_gate(later, EVERYTHING))
    assert not is_met(judge_certificate(later, CertificateRules()))


def test_a_programme_that_asks_for_nothing_is_nothing_to_be_ready_for():
    assert not is_met([])


def test_somebody_who_left_meets_neither_gate_nor_certificate():
    gone = facts(left_on=days_later(-1).date())
    for judged in (judge_gate(gone, EVERYTHING), judge_certificate(gone, CertificateRules())):
        assert [each.code for each in judged if not each.met] == ["place"]


class TestCertificate:
    RULES = CertificateRules(graded_sets=3, min_levels={"isolation": 3})

    def test_it_asks_for_the_hours_of_the_version_and_for_the_gate(self):
        judged = judge_certificate(facts(), self.RULES)
        assert [each.code for each in judged] == [
            *("all_units", "theory_hours", "practical_hours", "gate_opened", "graded_sets"),
            "level_isolation",
        ]
        assert is_met(judged)

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"openings": 0}, "gate_opened"),
            ({"graded": 2}, "graded_sets"),
            ({"levels": {}}, "level_isolation"),
            ({"hours": HoursFact(480, 0, 0, 8, 10)}, "practical_hours"),
        ],
    )
    def test_one_thing_missing_is_enough(self, changes, code):
        judged = judge_certificate(facts(**changes), self.RULES)
        assert [each.code for each in judged if not each.met] == [code]

    def test_a_version_that_asks_for_no_hours_has_no_such_condition(self):
        judged = judge_certificate(
            facts(hours=HoursFact(asked_theory=0, asked_practical=None)), CertificateRules()
        )
        assert [each.code for each in judged] == ["all_units", "gate_opened"]


class TestBasis:
    """What a signature rests on: the rows behind the conditions under one version of the programme."""

    def basis(self, version: int = 1, **changes: object) -> str:
        return basis_of(judge_gate(facts(**changes), EVERYTHING), version)

    def test_the_same_rows_are_the_same_basis_on_any_day(self):
        assert self.basis() == self.basis(now=days_later(5))

    def test_another_version_of_the_programme_is_another_basis(self):
        assert self.basis() != self.basis(version=2)

    def test_more_hours_leave_it_as_it_is(self):
        assert self.basis() == self.basis(hours=HoursFact(theory=600, practical=60, clock=600))

    @pytest.mark.parametrize(
        "changes",
        [
            {"sets": [a_set(1), a_set(2), a_set(3, grade="999")]},
            {"sets": [a_set(2), a_set(3), a_set(4)]},
            {"units": [UnitFact("hygiene", "Hygiene", True, True, "signed off", "77")]},
            {"skills": [SkillFact("isolation", "Isolation", True, "competent", "78")]},
            {"consents": {"assessment_record": replace(ConsentFact("Assessment record", True), row="79")}},
        ],
    )
    def test_a_corrected_set_a_new_set_or_anything_given_anew_is_another_basis(self, changes):
        assert self.basis() != self.basis(**changes)
