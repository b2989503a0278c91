"""Issued once, frozen, and told apart by what happened since."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from random import Random

import pytest

from academy.errors import DomainError
from academy.models import AuditEntry, Membership, RecordIsFinal
from academy.services.people import NameNotUsable, end_membership
from academy.signing_keys import NoSigningKey
from assessments.models import Certificate, CertificateEvent, PublicKey
from assessments.scoring.certificate_state import State
from assessments.selectors.certificates import Standing
from assessments.services import certificates as services
from assessments.services.certificates import (
    CertificateIs,
    CertificateStands,
    NotReadyForCertificate,
    ReasonMissing,
    SameHolder,
    issue_certificate,
    reissue_certificate,
    restore_certificate,
    revoke_certificate,
    share_certificate,
    suspend_certificate,
)
from courses.programme.content import CertificateRules
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED
from tests.factories.certificates import (
    ISSUED,
    certified_ada,
    make_certificate,
    make_enrolment,
    make_key,
    make_ready,
)
from tests.factories.signing_keys import lend_key

pytestmark = pytest.mark.django_db
LATER = ISSUED + timedelta(days=30)
AFTER_THE_END = datetime(2028, 3, 1, 9, 0, tzinfo=UTC)


def state(row: Certificate, at: datetime = LATER) -> State:
    return Standing(Certificate.objects.get(pk=row.pk), at).state


def decide(service: Callable[..., object], row: Certificate, cast: Cast, at: datetime = LATER) -> None:
    service(certificate=row, reason="Invented for a test", actor=cast.owner, now=at)


class TestIssue:
    def test_it_says_what_the_record_says_that_day(self, cast: Cast):
        row = certified_ada(cast)
        assert (row.number, row.holder_name, row.replaces) == (1, "Ada Marsh", None)
        assert (row.valid_from, row.valid_until) == (ISSUED, datetime(2028, 2, 22, 9, 0, tzinfo=UTC))
        content = row.content
        assert (content["school"], content["town"]) == ("Marram Lane Lash School", "Saltby")
        assert (content["programme"], content["programme_version"]) == ("Lash foundation", 1)
        assert (content["educator"], content["sets"]) == ("Ines Carvalho", 1)
        assert content["practical_minutes"] == 240  # the one set, by its clock
        assert content["first_set_on"] == content["last_set_on"] == STARTED.date().isoformat()
        assert content["marks"] == [cast.ada.practice_sets.get().grades.get().pk]
        assert {"Isolation", "Placement"} <= {skill["name"] for skill in content["skills"]}

    def test_later_changes_of_school_and_name_leave_it_as_it_is(self, cast: Cast):
        row = certified_ada(cast)
        cast.academy.name, cast.ada.user.name = "Another name", "Ada Fell"
        cast.academy.save()
        cast.ada.user.save()
        kept = Certificate.objects.get(pk=row.pk)
        assert (kept.content["school"], kept.holder_name) == ("Marram Lane Lash School", "Ada Marsh")

    def test_nothing_of_it_can_be_changed_or_removed(self, cast: Cast):
        row = certified_ada(cast)
        row.holder_name = "Somebody Else"
        for attempt in (row.save, row.delete, Certificate.objects.all().delete):
            with pytest.raises(RecordIsFinal):
                attempt()
        with pytest.raises(RecordIsFinal):
            Certificate.objects.update(holder_name="Somebody Else")
        decide(suspend_certificate, row, cast)
        with pytest.raises(RecordIsFinal):
            CertificateEvent.objects.all().delete()

    def test_without_a_programme_there_is_nothing_to_certify(self, cast: Cast):
        make_key(cast.academy)
        with pytest.raises(NotReadyForCertificate, match="on no programme"):
            issue_certificate(student=cast.ada, actor=cast.ines, now=ISSUED)

    def test_a_condition_that_is_not_met_is_named(self, cast: Cast):
        make_key(cast.academy)
        make_enrolment(cast.ada, cast.owner)
        with pytest.raises(NotReadyForCertificate, match="Graded sets") as refused:
            issue_certificate(student=cast.ada, actor=cast.ines, now=ISSUED)
        assert "Graded sets" in str(refused.value.details["missing"])
        assert not Certificate.objects.exists()

    def test_whoever_has_left_is_not_certified_but_keeps_what_she_holds(self, cast: Cast):
        row = certified_ada(cast)
        make_ready(cast.bea, cast.ines)
        for student in (cast.ada, cast.bea):
            end_membership(actor=cast.owner, member=Membership.objects.get(pk=student.pk), now=ISSUED)
        with pytest.raises(NotReadyForCertificate, match="Place at the academy"):
            issue_certificate(student=cast.bea, actor=cast.ines, now=LATER)  # read before she left
        assert state(row) == State.VALID
        renamed = reissue_certificate(
            certificate=row, holder_name="Ada Fell", reason="Married", actor=cast.owner, now=LATER
        )
        assert renamed.holder_name == "Ada Fell"

    def test_without_a_key_nothing_is_issued(self, cast: Cast):
        make_ready(cast.ada, cast.ines)
        lend_key(cast.academy.pk + 1)
        PublicKey.objects.all()._raw_delete("default")
        with pytest.raises(NoSigningKey):
            issue_certificate(student=cast.ada, actor=cast.ines, now=ISSUED)
        assert not Certificate.objects.exists()

    def test_a_second_one_is_refused_while_the_first_stands(self, cast: Cast):
        row = certified_ada(cast)
        decide(suspend_certificate, row, cast)
        with pytest.raises(CertificateStands, match="Certificate 1 has been issued"):
            issue_certificate(student=cast.ada, actor=cast.ines, now=LATER)

    def test_after_a_revocation_another_follows_it(self, cast: Cast):
        row = certified_ada(cast)
        decide(revoke_certificate, row, cast)
        new = issue_certificate(student=cast.ada, actor=cast.ines, now=LATER)
        assert (new.number, new.replaces) == (2, row)
        assert (state(row), state(new)) == (State.REVOKED, State.VALID)

    def test_after_the_last_day_another_follows_it(self, cast: Cast):
        row = certified_ada(cast)
        new = issue_certificate(student=cast.ada, actor=cast.ines, now=AFTER_THE_END)
        assert (state(row, AFTER_THE_END), state(new, AFTER_THE_END)) == (State.EXPIRED, State.VALID)

    def test_a_programme_may_set_no_last_day(self, cast: Cast):
        rules = CertificateRules(
            all_units=False, gate_open_once=False, graded_sets=1, valid_months=None, scope="Sets on heads."
        )
        make_enrolment(cast.bea, cast.owner, rules=rules)
        assert make_certificate(cast.ada, cast.ines).valid_until is None

    def test_numbers_count_up_in_each_academy_and_codes_and_places_differ(self, cast: Cast):
        rows = [certified_ada(cast), make_certificate(cast.bea, cast.ines)]
        other = make_certificate(cast.omar_student, cast.omar)
        assert [row.number for row in (*rows, other)] == [1, 2, 1]
        assert len({row.code for row in (*rows, other)}) == 3
        assert len({row.status_index for row in rows}) == 2

    def test_a_new_list_is_begun_when_one_has_no_room(self, cast: Cast, monkeypatch):
        monkeypatch.setattr(services, "LIST_HOLDS", 1)
        rows = [certified_ada(cast), make_certificate(cast.bea, cast.ines)]
        assert [row.status_list for row in rows] == [1, 2]

    def test_chance_is_an_argument_and_secret_by_default(self, cast: Cast):
        make_ready(cast.ada, cast.ines)
        row = issue_certificate(student=cast.ada, actor=cast.ines, now=ISSUED, chance=Random(1))
        assert row.code != issue_after_revoking(row, cast).code

    def test_the_record_keeps_who_issued_it_without_names(self, cast: Cast):
        row = certified_ada(cast)
        entry = AuditEntry.objects.get(action="issue_certificate")
        assert (entry.actor, entry.object_id, entry.after["number"]) == (cast.ines, str(row.pk), 1)
        assert "Ada" not in str(entry.after)


def issue_after_revoking(row: Certificate, cast: Cast) -> Certificate:
    decide(revoke_certificate, row, cast)
    return issue_certificate(student=row.student, actor=cast.ines, now=LATER, chance=Random(2))


class TestReissue:
    def again(self, row: Certificate, cast: Cast, **changes: object) -> Certificate:
        asked = {"holder_name": "Ada Fell", "reason": "Married", "actor": cast.owner, "now": LATER}
        return reissue_certificate(certificate=row, **{**asked, **changes})  # type: ignore[arg-type]

    def test_another_name_gets_another_certificate_with_the_same_end(self, cast: Cast):
        row = certified_ada(cast)
        new = self.again(row, cast)
        assert (new.number, new.replaces, new.holder_name) == (2, row, "Ada Fell")
        assert (new.valid_from, new.valid_until) == (LATER, row.valid_until)
        assert {**row.content, "holder": "Ada Fell"} == new.content
        assert new.content["awarded_at"] == ISSUED.isoformat()
        assert new.code != row.code and new.subject_id != row.subject_id
        assert (state(row), state(new)) == (State.REPLACED, State.VALID)
        assert row.events.get().reason == "Married"

    def test_the_same_name_is_no_reason(self, cast: Cast):
        with pytest.raises(SameHolder):
            self.again(certified_ada(cast), cast, holder_name=" Ada Marsh ")

    @pytest.mark.parametrize("name", ["Ada\nFell", "Ada\x00Fell", "\u202eadA", "  ", "x" * 121])
    def test_a_name_that_cannot_be_printed_on_one_line_is_refused(self, cast: Cast, name):
        row = certified_ada(cast)
        with pytest.raises(NameNotUsable):
            self.again(row, cast, holder_name=name)
        assert list(Certificate.objects.all()) == [row] and not row.events.exists()

    def test_an_expired_one_is_not_given_a_new_life_by_a_new_name(self, cast: Cast):
        row = certified_ada(cast)
        with pytest.raises(CertificateIs, match="This certificate is expired"):
            self.again(row, cast, now=AFTER_THE_END)

    def test_one_whose_first_day_has_not_come_still_begins_on_it(self, cast: Cast):
        row = certified_ada(cast)
        assert self.again(row, cast, now=ISSUED - timedelta(days=1)).valid_from == row.valid_from

    def test_a_suspended_one_is_issued_under_another_name_once_restored(self, cast: Cast):
        row = certified_ada(cast)
        decide(suspend_certificate, row, cast)
        decide(restore_certificate, row, cast)
        assert state(self.again(row, cast)) == State.VALID and state(row) == State.REPLACED

    def test_a_reason_is_needed_and_without_it_nothing_is_kept(self, cast: Cast):
        row = certified_ada(cast)
        with pytest.raises(ReasonMissing):
            self.again(row, cast, reason="  ")
        assert list(Certificate.objects.all()) == [row]

    @pytest.mark.parametrize("service", [suspend_certificate, revoke_certificate])
    def test_what_does_not_count_is_not_issued_again(self, cast: Cast, service):
        row = certified_ada(cast)
        decide(service, row, cast)
        with pytest.raises(CertificateIs, match="in force"):
            self.again(row, cast)

    def test_a_replaced_one_is_not_replaced_twice(self, cast: Cast):
        row = certified_ada(cast)
        self.again(row, cast)
        with pytest.raises(CertificateIs, match="This certificate is replaced"):
            self.again(row, cast, holder_name="Ada Third")


class TestDecisions:
    def test_a_suspension_can_be_lifted_and_repeated(self, cast: Cast):
        row = certified_ada(cast)
        for _ in range(2):
            decide(suspend_certificate, row, cast)
            assert state(row) == State.SUSPENDED
            decide(restore_certificate, row, cast)
            assert state(row) == State.VALID
        assert row.events.count() == 4

    def test_a_revocation_is_for_good(self, cast: Cast):
        row = certified_ada(cast)
        decide(suspend_certificate, row, cast)
        decide(revoke_certificate, row, cast)
        for service in (restore_certificate, suspend_certificate, revoke_certificate):
            with pytest.raises(CertificateIs, match="This certificate is revoked"):
                decide(service, row, cast)
        assert state(row) == State.REVOKED

    def test_only_what_is_suspended_is_restored(self, cast: Cast):
        row = certified_ada(cast)
        with pytest.raises(CertificateIs, match="Only a suspended"):
            decide(restore_certificate, row, cast)
        decide(suspend_certificate, row, cast)
        with pytest.raises(CertificateIs, match="cannot be suspended"):
            decide(suspend_certificate, row, cast)

    @pytest.mark.parametrize("service", [suspend_certificate, revoke_certificate])
    def test_a_reason_is_needed(self, cast: Cast, service):
        row = certified_ada(cast)
        with pytest.raises(ReasonMissing):
            service(certificate=row, reason=" ", actor=cast.owner, now=LATER)
        assert not row.events.exists()

    def test_every_decision_is_on_record_with_its_reason(self, cast: Cast):
        row = certified_ada(cast)
        for service in (suspend_certificate, restore_certificate, revoke_certificate):
            decide(service, row, cast)
        entries = AuditEntry.objects.filter(object_type="assessments.certificate").order_by("id")
        assert [(entry.action, entry.reason) for entry in entries][1:] == [
            ("suspend_certificate", "Invented for a test"),
            ("restore_certificate", "Invented for a test"),
            ("revoke_certificate", "Invented for a test"),
        ]


def test_the_holder_shows_her_levels_and_stops_again(cast: Cast):
    row = certified_ada(cast)
    assert not Standing(row, LATER).shows_marks
    for shown in (True, False):
        share_certificate(certificate=row, shows_marks=shown, actor=cast.ada, now=LATER)
        assert Standing(Certificate.objects.get(pk=row.pk), LATER).shows_marks is shown
    assert AuditEntry.objects.filter(action="share_certificate").count() == 2


def test_every_refusal_says_what_to_do():
    for refusal in (ReasonMissing(), SameHolder(), NotReadyForCertificate([])):
        assert isinstance(refusal, DomainError) and refusal.message.endswith(".")
