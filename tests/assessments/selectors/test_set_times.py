"""Times of finished sets, brief by brief."""

from datetime import timedelta

from assessments.selectors.set_times import times_by_brief, times_of
from tests.factories.assessments import STARTED, Bench, make_finished_set, make_graded_set, make_started_set
from tests.factories.courses import make_brief, make_head

DAY = timedelta(days=1)


def test_sets_are_numbered_on_their_brief_and_the_busiest_brief_comes_first(bench: Bench):
    other = make_brief(bench.academy, bench.educator, name="Wispy")
    make_graded_set(Bench(bench.student, bench.educator, other, bench.head), minutes=250)
    make_graded_set(bench, at=STARTED + DAY, minutes=240)
    make_graded_set(bench, at=STARTED + 2 * DAY, minutes=210)
    first, second = times_of(bench.student)
    assert (first.seconds, list(first.numbers)) == ((240 * 60, 210 * 60), [1, 2])
    assert (second.name, second.seconds) == ("Wispy", (250 * 60,))


def test_a_set_under_way_has_no_time_yet(bench: Bench):
    make_started_set(bench)
    assert times_of(bench.student) == ()


def test_all_students_of_a_brief_are_gathered_in_one_query(bench: Bench, cast, django_assert_num_queries):
    make_finished_set(bench, minutes=240)
    make_finished_set(Bench(cast.bea, cast.ines, bench.brief, make_head(cast.academy, "Spare")), minutes=200)
    with django_assert_num_queries(1):
        found = times_by_brief(cast.academy)
    times = [seconds for _, seconds in found[bench.brief.brief_id]]
    assert times == [[240 * 60], [200 * 60]]
