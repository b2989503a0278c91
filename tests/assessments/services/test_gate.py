"""The gate opens by the student's and an educator's signature on one evidence, and by nothing else."""

from datetime import timedelta

import pytest

from academy.models import AuditEntry, Membership, RecordIsFinal
from academy.services.people import end_membership
from assessments.models import GateClosing, GateOpening, GateSignature, GateStanding, Grade
from assessments.selectors.readiness import readiness_of
from assessments.selectors.second_marks import MarkingBlind
from assessments.services.gate import (
    AlreadySignedGate,
    EvidenceMovedOn,
    GateConditionUnmet,
    GateIsOpen,
    GateNotOpen,
    NotYourSignature,
    ReasonMissing,
    close_gate,
    record_lapses,
    sign_gate,
    watch_gate,
)
from courses.services.enrolments import end_enrolment, move_enrolment
from courses.services.programmes import copy_programme_version, publish_programme_version
from tests.factories.academy import Cast
from tests.factories.gate import READY_AT, easier, make_gate_ready, make_open_gate, make_set, signed_by
from tests.factories.gate_falls import FALLS, RETURNS, another_set
from tests.factories.second_marks import give_second_mark

pytestmark = pytest.mark.django_db

SOON = READY_AT + timedelta(days=1)
LATER = READY_AT + timedelta(days=2)
LAPSED = READY_AT + timedelta(days=100)


def state(cast: Cast, at=READY_AT) -> str:
    return readiness_of(cast.ada, now=at).gate_state


class TestTwoSignatures:
    @pytest.mark.parametrize("order", [("ada", "ines"), ("ines", "ada"), ("owner", "ada")])
    def test_the_gate_opens_with_the_second_and_keeps_what_both_signed(self, cast: Cast, order):
        make_gate_ready(cast)
        basis = readiness_of(cast.ada, now=READY_AT).basis
        first = signed_by(cast.ada, getattr(cast, order[0]))
        waits_for = "educator" if order[0] == "ada" else "student"
        assert (first.gate_state, GateOpening.objects.count()) == (f"waiting_for_{waits_for}", 0)
        second = signed_by(cast.ada, getattr(cast, order[1]), at=SOON)
        opening = GateOpening.objects.get()
        assert (second.gate_state, opening.number, opening.at) == ("open", 1, SOON)
        assert opening.student_signature.signed_by == cast.ada
        assert opening.educator_signature.signed_by.is_staff_here
        assert opening.evidence["basis"] == basis
        assert len(opening.evidence["conditions"]) == 10

    def test_it_leaves_audit_entries(self, cast: Cast):
        make_open_gate(cast)
        actions = AuditEntry.objects.filter(action__in=["sign_gate", "open_gate"]).order_by("id")
        assert [(each.action, each.actor) for each in actions] == [
            ("sign_gate", cast.ada),
            ("sign_gate", cast.ines),
            ("open_gate", cast.ines),
        ]

    def test_two_educators_do_not_open_it(self, cast: Cast):
        make_gate_ready(cast)
        signed_by(cast.ada, cast.ines)
        with pytest.raises(AlreadySignedGate):
            signed_by(cast.ada, cast.owner)
        assert state(cast) == "waiting_for_student"

    def test_nobody_signs_for_both_sides(self, cast: Cast):
        make_gate_ready(cast)
        signed_by(cast.ada, cast.ada)
        with pytest.raises(AlreadySignedGate):
            signed_by(cast.ada, cast.ada)
        assert not GateOpening.objects.exists()

    def test_an_open_gate_is_not_signed_again(self, cast: Cast):
        make_open_gate(cast)
        with pytest.raises(GateIsOpen):
            signed_by(cast.ada, cast.ines)

    @pytest.mark.parametrize("who", ["bea", "omar", "omar_student"])
    def test_nobody_else_signs(self, cast: Cast, who):
        make_gate_ready(cast)
        with pytest.raises(NotYourSignature):
            signed_by(cast.ada, getattr(cast, who))
        assert not GateSignature.objects.exists()

    def test_an_educator_who_has_left_does_not_sign(self, cast: Cast):
        make_gate_ready(cast)
        end_membership(actor=cast.owner, member=cast.ines, now=READY_AT)
        with pytest.raises(NotYourSignature):
            signed_by(cast.ada, Membership.objects.get(pk=cast.ines.pk))

    def test_whoever_marks_a_set_of_hers_blind_does_not_sign_yet(self, cast: Cast):
        make_gate_ready(cast, gate=easier(blind_mark=False))
        give_second_mark(make_set(cast, at=READY_AT), cast.second)
        with pytest.raises(MarkingBlind):
            signed_by(cast.ada, cast.second, at=SOON)

    def test_what_she_had_before_her_is_what_she_signs(self, cast: Cast):
        enrolment = make_gate_ready(cast, gate=easier(blind_mark=False))
        seen = readiness_of(cast.ada, now=READY_AT).basis
        another_set(cast, enrolment, SOON)
        for basis in (seen, ""):
            with pytest.raises(EvidenceMovedOn):
                sign_gate(student=cast.ada, actor=cast.ines, seen=basis, now=LATER)
        assert not GateSignature.objects.exists()

    def test_signatures_and_openings_never_change(self, cast: Cast):
        make_open_gate(cast)
        for model in (GateSignature, GateOpening):
            with pytest.raises(RecordIsFinal):
                model.objects.get(pk=model.objects.all()[0].pk).delete()
            with pytest.raises(RecordIsFinal):
                model.objects.update(evidence={})


class TestConditionUnmet:
    @pytest.mark.parametrize("code", FALLS)
    def test_neither_side_signs_while_one_condition_is_unmet(self, cast: Cast, code):
        enrolment = make_gate_ready(cast)
        FALLS[code](cast, enrolment, SOON)
        for actor in (cast.ada, cast.ines, cast.owner):
            with pytest.raises(GateConditionUnmet) as refused:
                signed_by(cast.ada, actor, at=LATER)
            assert code in str(refused.value.details["missing"])
        assert not GateSignature.objects.exists()

    @pytest.mark.parametrize(
        ("asked", "code"),
        [
            ({"practical_hours": 5}, "practical_hours"),
            ({"graded_sets": 2}, "graded_sets"),
            ({"consent": ("assessment_record", "practice_model")}, "consent_practice_model"),
            ({"consent": ("hat_size",)}, "consent_hat_size"),
        ],
    )
    def test_what_was_never_met_keeps_it_shut_as_well(self, cast: Cast, asked, code):
        make_gate_ready(cast, gate=easier(**asked))
        with pytest.raises(GateConditionUnmet) as refused:
            signed_by(cast.ada, cast.ines)
        assert refused.value.details["missing"] == (code,)

    def test_without_a_programme_there_is_no_gate(self, cast: Cast):
        with pytest.raises(GateConditionUnmet, match="no programme"):
            signed_by(cast.ada, cast.ines)

    def test_practice_that_is_too_old_keeps_it_shut(self, cast: Cast):
        make_gate_ready(cast)
        with pytest.raises(GateConditionUnmet) as refused:
            signed_by(cast.ada, cast.ines, at=LAPSED)
        assert refused.value.details["missing"] == ("recent",)

    @pytest.mark.parametrize("first", ["ada", "ines"])
    @pytest.mark.parametrize("code", FALLS)
    def test_a_condition_that_falls_away_between_the_signatures_keeps_it_shut(self, cast: Cast, code, first):
        enrolment = make_gate_ready(cast)
        second = {"ada": cast.ines, "ines": cast.ada}[first]
        signed_by(cast.ada, getattr(cast, first))
        FALLS[code](cast, enrolment, SOON)
        with pytest.raises(GateConditionUnmet):
            signed_by(cast.ada, second, at=LATER)
        assert not GateOpening.objects.exists()
        assert state(cast, LATER) == "shut"

    @pytest.mark.parametrize("code", ["units", "mastery", "consent_assessment_record"])
    def test_what_fell_away_and_came_back_is_signed_anew_by_both(self, cast: Cast, code):
        enrolment = make_gate_ready(cast)
        signed_by(cast.ada, cast.ada)
        FALLS[code](cast, enrolment, SOON)
        RETURNS[code](cast, enrolment, LATER)
        assert signed_by(cast.ada, cast.ines, at=LATER).gate_state == "waiting_for_student"
        assert signed_by(cast.ada, cast.ada, at=LATER).gate_state == "open"

    def test_another_set_between_the_signatures_is_other_evidence(self, cast: Cast):
        enrolment = make_gate_ready(cast, gate=easier(blind_mark=False))
        signed_by(cast.ada, cast.ada)
        another_set(cast, enrolment, SOON)
        assert signed_by(cast.ada, cast.ines, at=LATER).gate_state == "waiting_for_student"

    def test_a_move_to_another_version_asks_both_again(self, cast: Cast):
        enrolment = make_gate_ready(cast)
        signed_by(cast.ada, cast.ada)
        draft = copy_programme_version(version=enrolment.version, actor=cast.owner, now=SOON)
        newer = publish_programme_version(version=draft, actor=cast.owner, now=SOON)
        move_enrolment(enrolment=enrolment, version=newer, reason="new rules", actor=cast.owner, now=SOON)
        assert signed_by(cast.ada, cast.ines, at=LATER).gate_state == "waiting_for_student"


class TestClosing:
    @pytest.mark.parametrize("code", FALLS)
    def test_an_open_gate_shuts_when_a_condition_falls_away_and_both_sign_anew(self, cast: Cast, code):
        make_open_gate(cast)
        enrolment = GateOpening.objects.get().enrolment
        FALLS[code](cast, enrolment, SOON)
        assert state(cast, SOON) == "shut"
        watch_gate(student=cast.ada, now=SOON)
        closing = GateClosing.objects.get()
        assert (closing.kind, closing.by) == ("conditions", None)
        if code in RETURNS:
            RETURNS[code](cast, enrolment, LATER)
            assert state(cast, LATER) == "reached"
            assert signed_by(cast.ada, cast.ines, at=LATER).gate_state == "waiting_for_student"
            assert signed_by(cast.ada, cast.ada, at=LATER).is_open
            assert GateOpening.objects.get(closing=None).number == 2

    def test_marks_close_it_in_the_transaction_that_signs_them(self, cast: Cast):
        make_open_gate(cast)
        FALLS["competence"](cast, GateOpening.objects.get().enrolment, SOON)
        assert GateClosing.objects.get().at == SOON

    def test_a_set_that_chance_did_not_choose_for_a_blind_mark_leaves_it_open(self, cast: Cast):
        """Mastery and the blind mark let somebody in; later sets are watched by the competence rules."""
        make_open_gate(cast)
        another_set(cast, GateOpening.objects.get().enrolment, SOON)
        assert state(cast, SOON) == "open"

    def test_the_end_of_the_programme_closes_it(self, cast: Cast):
        make_open_gate(cast)
        enrolment = GateOpening.objects.get().enrolment
        end_enrolment(enrolment=enrolment, reason="finished", actor=cast.owner, now=SOON)
        assert state(cast, SOON) == "shut"
        watch_gate(student=cast.ada, now=SOON)
        assert "programme" in GateClosing.objects.get().words

    def test_whoever_leaves_has_no_open_gate(self, cast: Cast):
        make_open_gate(cast)
        end_membership(actor=cast.owner, member=cast.ada, now=SOON)
        assert readiness_of(Membership.objects.get(pk=cast.ada.pk), now=SOON).gate_state == "shut"
        with pytest.raises(GateConditionUnmet):
            signed_by(cast.ada, cast.ines, at=SOON)

    def test_it_is_closed_by_hand_for_a_reason(self, cast: Cast):
        make_open_gate(cast)
        closing = close_gate(student=cast.ada, actor=cast.second, reason=" Eye pain reported. ", now=SOON)
        assert (closing.kind, closing.words, closing.by) == ("by_hand", "Eye pain reported.", cast.second)
        assert state(cast, SOON) == "reached"
        assert AuditEntry.objects.get(action="close_gate").reason == "Eye pain reported."
        signed_by(cast.ada, cast.ada, at=LATER)
        assert state(cast, LATER) == "waiting_for_educator"

    @pytest.mark.parametrize("reason", ["", "  ", "x" * 1001])
    def test_no_reason_or_one_too_long_is_refused(self, cast: Cast, reason):
        make_open_gate(cast)
        with pytest.raises(ReasonMissing):
            close_gate(student=cast.ada, actor=cast.ines, reason=reason, now=SOON)
        assert state(cast, SOON) == "open"

    @pytest.mark.parametrize("who", ["ada", "bea", "omar"])
    def test_only_staff_of_the_academy_close_it(self, cast: Cast, who):
        make_open_gate(cast)
        with pytest.raises(NotYourSignature):
            close_gate(student=cast.ada, actor=getattr(cast, who), reason="no", now=SOON)

    def test_what_is_not_open_is_not_closed(self, cast: Cast):
        make_gate_ready(cast)
        with pytest.raises(GateNotOpen):
            close_gate(student=cast.ada, actor=cast.ines, reason="no", now=SOON)

    def test_whoever_marks_blind_may_still_close_it(self, cast: Cast):
        make_open_gate(cast)
        give_second_mark(make_set(cast, at=SOON - timedelta(hours=6)), cast.second)
        assert close_gate(student=cast.ada, actor=cast.second, reason="Stop.", now=SOON)


class TestLapse:
    def test_it_shuts_at_reading_time_before_anybody_writes_it_down(self, cast: Cast):
        make_open_gate(cast)
        graded_at = Grade.objects.get().signed_at
        full = graded_at + timedelta(days=90)
        assert state(cast, full - timedelta(seconds=1)) == "open"
        assert state(cast, full) == "lapsed"
        assert not GateClosing.objects.exists()

    def test_the_nightly_task_writes_down_when_it_lapsed_and_only_once(self, cast: Cast):
        make_open_gate(cast)
        assert record_lapses(academy=cast.academy, now=SOON) == 0
        assert record_lapses(academy=cast.academy, now=LAPSED) == 1
        assert record_lapses(academy=cast.academy, now=LAPSED) == 0
        closing = GateClosing.objects.get()
        assert (closing.kind, closing.recorded_at) == ("lapse", LAPSED)
        assert closing.at == Grade.objects.get().signed_at + timedelta(days=90)
        assert GateStanding.objects.get().state == "lapsed"

    def test_the_neighbours_gates_are_left_alone(self, cast: Cast):
        make_open_gate(cast)
        assert record_lapses(academy=cast.other_academy, now=LAPSED) == 0

    def test_a_set_after_the_lapse_does_not_open_it_but_two_new_signatures_do(self, cast: Cast):
        make_open_gate(cast, gate=easier(blind_mark=False))
        another_set(cast, GateOpening.objects.get().enrolment, LAPSED)
        assert GateClosing.objects.get().kind == "lapse"
        assert state(cast, LAPSED) == "reached"
        signed_by(cast.ada, cast.ines, at=LAPSED)
        assert signed_by(cast.ada, cast.ada, at=LAPSED).is_open
        assert GateOpening.objects.count() == 2

    def test_the_lapse_is_that_of_the_programme(self, cast: Cast):
        make_open_gate(cast, gate=easier(lapse_days=10))
        assert state(cast, READY_AT + timedelta(days=9)) == "lapsed"


class TestStanding:
    def test_it_says_since_when_the_gate_stands_so(self, cast: Cast):
        make_gate_ready(cast)
        reached = GateStanding.objects.get(student=cast.ada)
        assert (reached.state, reached.met, reached.asked) == ("reached", 10, 10)
        watch_gate(student=cast.ada, now=LATER)
        assert GateStanding.objects.get().at == reached.at
        signed_by(cast.ada, cast.ada, at=LATER)
        waiting = GateStanding.objects.get()
        assert (waiting.state, waiting.at) == ("waiting_for_educator", LATER)

    def test_an_open_gate_says_when_it_lapses(self, cast: Cast):
        made = make_open_gate(cast)
        kept = GateStanding.objects.get()
        assert (kept.state, kept.lapses_at) == ("open", made.lapses_at)

    def test_who_was_never_on_a_programme_has_none(self, cast: Cast):
        watch_gate(student=cast.bea, now=READY_AT)
        assert not GateStanding.objects.exists()

    def test_it_counts_what_is_met(self, cast: Cast):
        make_gate_ready(cast, gate=easier(practical_hours=5, graded_sets=4))
        assert GateStanding.objects.get().met == 8
