"""What of a cohort would be printed, and whose file is whose."""

from datetime import timedelta

import pytest

from academy.errors import NotHere
from academy.models import Cohort
from assessments.models import CertificateBatch, Grade
from assessments.selectors.certificate_batches import (
    batch_under_way,
    certificate_batch,
    certificate_batches,
    certificates_to_print,
    cohorts_to_print,
    refuse_blind,
)
from assessments.selectors.second_marks import MarkingBlind
from assessments.services.certificates import suspend_certificate
from tests.factories.academy import JOINED, Cast, make_cohort
from tests.factories.certificate_batches import finish_batch, make_batch
from tests.factories.certificates import ISSUED, make_certificate
from tests.factories.second_marks import give_second_mark

pytestmark = pytest.mark.django_db
NOW = ISSUED + timedelta(days=1)


def told(cast: Cast) -> list[tuple[Cohort, int]]:
    return [(row.cohort, row.certificates) for row in cohorts_to_print(cast.academy, at=NOW)]


def test_only_cohorts_with_certificates_in_force_are_offered(cast: Cast):
    make_cohort(cast.academy, "Autumn")
    assert told(cast) == []
    rows = [make_certificate(student, cast.ines) for student in (cast.ada, cast.bea)]
    assert told(cast) == [(cast.cohort, 2)]
    suspend_certificate(certificate=rows[0], reason="Invented for a test", actor=cast.owner, now=NOW)
    assert told(cast) == [(cast.cohort, 1)]
    assert list(certificates_to_print(cast.cohort, at=NOW)) == rows[1:]


def test_another_school_is_offered_nothing_of_ours(cast: Cast):
    make_certificate(cast.ada, cast.ines)
    assert cohorts_to_print(cast.other_academy, at=NOW) == []


def test_they_are_printed_by_name(cast: Cast):
    for student in (cast.bea, cast.ada):
        make_certificate(student, cast.ines)
    names = [row.holder_name for row in certificates_to_print(cast.cohort, at=NOW)]
    assert names == ["Ada Marsh", "Bea Holm"]


def test_the_queries_do_not_grow_with_the_certificates(cast: Cast, django_assert_num_queries):
    for student in (cast.ada, cast.bea):
        make_certificate(student, cast.ines)
    cohort = Cohort.objects.select_related("academy").get(pk=cast.cohort.pk)
    with django_assert_num_queries(2):  # the rows, their events
        assert [row.academy.time_zone for row in certificates_to_print(cohort, at=NOW)] == ["UTC"] * 2
    with django_assert_num_queries(2):
        cohorts_to_print(cast.academy, at=NOW)


def test_a_file_belongs_to_its_school(cast: Cast):
    batch = make_batch(cast.cohort, cast.ines)
    assert certificate_batch(cast.academy, batch.uid) == batch
    assert list(certificate_batches(cast.other_academy)) == []
    with pytest.raises(NotHere):
        certificate_batch(cast.other_academy, batch.uid)


def test_under_way_is_the_newest_of_its_kind_until_it_is_written(cast: Cast):
    assert batch_under_way(cast.cohort, "pdf", now=NOW) is None
    batch = make_batch(cast.cohort, cast.ines, at=NOW)
    assert batch_under_way(cast.cohort, "pdf", now=NOW) == batch
    assert batch_under_way(cast.cohort, "zip", now=NOW) is None
    assert batch_under_way(cast.cohort, "pdf", now=NOW + CertificateBatch.STALLED) is None
    finish_batch(batch)
    assert batch_under_way(cast.cohort, "pdf", now=NOW) is None


def test_who_marks_a_set_blind_is_refused_the_levels_that_rest_on_it(cast: Cast):
    make_certificate(cast.ada, cast.ines)
    give_second_mark(Grade.objects.get(practice_set__student=cast.ada), cast.second)
    with pytest.raises(MarkingBlind):
        refuse_blind(cast.second, cast.cohort, until=NOW)
    refuse_blind(cast.second, cast.cohort, until=JOINED)  # nothing was graded by then
    refuse_blind(cast.second, make_cohort(cast.academy, "Autumn"), until=NOW)
    refuse_blind(cast.ines, cast.cohort, until=NOW)
