"""Certificates found by whom they concern, and told apart by their state."""

from datetime import timedelta

import pytest

from academy.errors import NotHere
from assessments.models import Certificate, CertificateEvent, GateStanding
from assessments.scoring.certificate_state import State
from assessments.selectors.certificates import (
    Standing,
    certificate,
    certificate_for,
    certificates,
    certificates_of,
    in_state,
    newest_of,
    ready_enrolments,
    refuse_blind,
)
from assessments.selectors.second_marks import MarkingBlind
from assessments.services.certificates import issue_certificate, revoke_certificate, suspend_certificate
from assessments.services.gate import watch_gate
from tests.factories.academy import Cast
from tests.factories.assessments import STARTED
from tests.factories.certificates import ISSUED, certified_ada, make_certificate, make_ready
from tests.factories.second_marks import give_second_mark

pytestmark = pytest.mark.django_db
SECOND, LATER = timedelta(seconds=1), ISSUED + timedelta(days=10)
HISTORIES = [
    (),
    ("suspended",),
    ("suspended", "restored"),
    ("suspended", "restored", "suspended"),
    ("revoked",),
    ("suspended", "revoked"),
    ("replaced",),
]


def happened(row: Certificate, kinds: tuple[str, ...], cast: Cast) -> None:
    suspension = None
    for kind in kinds:
        event = CertificateEvent.objects.create(
            certificate=row,
            kind=kind,
            reason="Invented",
            lifts=suspension if kind == "restored" else None,
            by=cast.owner,
            at=ISSUED,
        )
        suspension = event if kind == "suspended" else suspension


@pytest.mark.parametrize("kinds", HISTORIES, ids=lambda kinds: "-".join(kinds) or "nothing")
def test_the_database_tells_the_same_state_as_the_rule(cast: Cast, kinds: tuple[str, ...]):
    row = certified_ada(cast)
    happened(row, kinds, cast)
    assert row.valid_until
    for at in (ISSUED - SECOND, ISSUED, row.valid_until - SECOND, row.valid_until):
        found = [state for state in State if in_state(certificates(cast.academy), state, at=at).exists()]
        assert found == [Standing(row, at).state]


def test_each_sees_what_concerns_her(cast: Cast):
    row, other = certified_ada(cast), make_certificate(cast.omar_student, cast.omar)
    assert certificate(cast.academy, row.pk) == row
    for member in (cast.owner, cast.ines, cast.ada):
        assert certificate_for(member, row.pk) == row
    for member, key in ((cast.bea, row.pk), (cast.ines, other.pk), (cast.ada, 987_654)):
        with pytest.raises(NotHere):
            certificate_for(member, key)
    assert list(certificates_of(cast.ada)) == [row] and not certificates_of(cast.bea)


def test_who_marks_a_set_blind_does_not_read_its_levels_on_a_certificate(cast: Cast):
    row = certified_ada(cast)
    give_second_mark(cast.ada.practice_sets.get().grades.get(), cast.second)
    with pytest.raises(MarkingBlind):
        certificate_for(cast.second, row.pk)
    assert certificate_for(cast.ines, row.pk) == certificate_for(cast.ada, row.pk) == row
    refuse_blind(cast.second, cast.ada, until=STARTED)  # before that set was graded
    with pytest.raises(MarkingBlind):
        issue_certificate(student=cast.ada, actor=cast.second, now=LATER)


def test_the_newest_of_an_enrolment(cast: Cast):
    row = certified_ada(cast)
    revoke_certificate(certificate=row, reason="Fraud", actor=cast.owner, now=LATER)
    new = issue_certificate(student=cast.ada, actor=cast.ines, now=LATER)
    assert newest_of(row.enrolment) == new


class TestReady:
    def of(self, cast: Cast, at=LATER) -> list[str]:
        return [each.student.name for each in ready_enrolments(cast.academy, at=at)]

    def test_they_meet_every_condition_and_hold_no_certificate(self, cast: Cast):
        for student in (cast.ada, cast.bea):
            make_ready(student, cast.ines, head=f"Head of {student.name}")
            watch_gate(student=student, now=LATER)
        assert self.of(cast) == ["Ada Marsh", "Bea Holm"]
        row = issue_certificate(student=cast.ada, actor=cast.ines, now=LATER)
        assert self.of(cast) == ["Bea Holm"]
        suspend_certificate(certificate=row, reason="Asked", actor=cast.owner, now=LATER)
        assert self.of(cast) == ["Bea Holm"]
        revoke_certificate(certificate=row, reason="Fraud", actor=cast.owner, now=LATER)
        assert self.of(cast) == ["Ada Marsh", "Bea Holm"]

    def test_after_the_last_day_they_may_be_certified_again(self, cast: Cast):
        row = certified_ada(cast)
        watch_gate(student=cast.ada, now=LATER)
        assert row.valid_until and self.of(cast) == []
        assert self.of(cast, row.valid_until) == ["Ada Marsh"]

    def test_whoever_misses_a_condition_or_has_left_is_not_among_them(self, cast: Cast):
        make_ready(cast.ada, cast.ines)
        watch_gate(student=cast.ada, now=LATER)
        cast.ada.left_at = LATER
        cast.ada.save()
        make_ready(cast.bea, cast.ines, head="Other")
        GateStanding.objects.filter(student=cast.bea).update(certificate_ready=False)
        assert self.of(cast) == []


def test_codes_are_shown_in_groups_and_lead_to_the_check_page(cast: Cast):
    standing = Standing(certified_ada(cast), LATER)
    assert standing.code.replace("-", "") == standing.certificate.code and standing.code.count("-") == 2
    assert standing.check_url.endswith(f"/v/{standing.certificate.code}")


@pytest.mark.parametrize(
    ("kinds", "over", "can_be_revoked"),
    [
        ((), False, True),
        (("suspended",), False, True),
        (("replaced",), False, False),
        (("revoked",), True, False),
    ],
)
def test_what_may_still_be_done(cast: Cast, kinds, over, can_be_revoked):
    row = certified_ada(cast)
    happened(row, kinds, cast)
    standing = Standing(row, LATER)
    assert (standing.is_over, standing.can_be_revoked) == (over, can_be_revoked)


def test_lists_cost_the_same_for_one_and_for_several(cast: Cast, django_assert_num_queries):
    certified_ada(cast)
    for rows in (1, 2):
        with django_assert_num_queries(2):
            found = [(each.holder_name, Standing(each, LATER).state) for each in certificates(cast.academy)]
        assert len(found) == rows
        if rows == 1:
            make_certificate(cast.bea, cast.ines)
