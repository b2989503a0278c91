"""Two people at the same instant: one certificate, one end, numbers of their own."""

from functools import partial

import pytest

from assessments.models import Certificate, CertificateEvent
from assessments.services.certificates import (
    CertificateIs,
    CertificateStands,
    issue_certificate,
    reissue_certificate,
    revoke_certificate,
)
from tests.factories.academy import Cast
from tests.factories.certificates import ISSUED, certified_ada, make_ready
from tests.factories.parallel import at_once

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]


def test_two_who_issue_at_once_issue_one(cast: Cast):
    make_ready(cast.ada, cast.ines)
    issue = partial(issue_certificate, student=cast.ada, now=ISSUED)
    answers = at_once(partial(issue, actor=cast.ines), partial(issue, actor=cast.owner))
    (won,) = [answer for answer in answers if isinstance(answer, Certificate)]
    assert [type(answer) for answer in answers if answer is not won] == [CertificateStands]
    assert list(Certificate.objects.all()) == [won]


def test_two_students_certified_at_once_get_numbers_and_places_of_their_own(cast: Cast):
    for student in (cast.ada, cast.bea):
        make_ready(student, cast.ines, head=f"Head of {student.name}")
    issue = partial(issue_certificate, actor=cast.ines, now=ISSUED)
    at_once(partial(issue, student=cast.ada), partial(issue, student=cast.bea))
    rows = Certificate.objects.all()
    assert sorted(row.number for row in rows) == [1, 2]
    assert len({row.status_index for row in rows}) == 2


def test_two_who_end_it_at_once_end_it_once(cast: Cast):
    row = certified_ada(cast)
    revoke = partial(revoke_certificate, certificate=row, actor=cast.owner, now=ISSUED)
    answers = at_once(partial(revoke, reason="One"), partial(revoke, reason="Other"))
    assert sorted(type(answer).__name__ for answer in answers) == ["CertificateEvent", "CertificateIs"]
    assert CertificateEvent.objects.count() == 1


def test_a_new_name_and_a_revocation_at_once_leave_one_of_them(cast: Cast):
    row = certified_ada(cast)
    answers = at_once(
        partial(revoke_certificate, certificate=row, reason="Fraud", actor=cast.owner, now=ISSUED),
        partial(
            reissue_certificate,
            certificate=row,
            holder_name="Ada Fell",
            reason="Married",
            actor=cast.ines,
            now=ISSUED,
        ),
    )
    assert sum(isinstance(answer, CertificateIs) for answer in answers) == 1
    assert row.events.count() == 1
