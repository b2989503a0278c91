"""A report keeps what the marks up to an instant said, and the same marks say the same."""

from datetime import timedelta

from assessments.models import AgreementReport
from assessments.services.agreement import compute_agreement
from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_entry
from tests.factories.bench import graded_set
from tests.factories.second_marks import LATER, second_result


def test_a_report_names_what_it_rests_on(bench: Bench, cast: Cast):
    second_result(graded_set(bench), cast.second)
    report = compute_agreement(academy=cast.academy, until=LATER, seed=1, now=LATER)
    assert (report.second_marks, report.newest_at, report.until) == (1, LATER, LATER)
    assert report.findings["sets"] == 1


def test_the_same_marks_and_seed_say_the_same(bench: Bench, cast: Cast):
    for number in range(3):
        levels = {"product": number}
        grade = graded_set(bench, at=LATER + timedelta(days=number), entry=make_entry(levels=levels))
        second_result(grade, cast.second, {"product": number + 1}, at=LATER + timedelta(days=number, hours=8))
    now = LATER + timedelta(days=9)
    one, other = (compute_agreement(academy=cast.academy, until=now, seed=7, now=now) for _ in range(2))
    assert one.findings == other.findings and one.second_marks == 3
    assert AgreementReport.objects.count() == 2


def test_the_neighbours_second_marks_do_not_count(bench: Bench, cast: Cast):
    second_result(graded_set(bench), cast.second)
    report = compute_agreement(academy=cast.other_academy, until=LATER, seed=1, now=LATER)
    assert (report.second_marks, report.newest_at) == (0, None)
