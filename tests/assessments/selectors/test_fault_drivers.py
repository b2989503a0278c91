"""The fault that holds a skill down is the commonest of its faults over the latest three sets."""

from datetime import timedelta

from assessments.selectors.fault_drivers import FaultDriver, fault_drivers, faults_seen, latest_inspections
from assessments.selectors.grades import marks_that_count
from tests.factories.assessments import STARTED, Bench, Outcome, make_graded_set

DAY = timedelta(days=1)


def drivers(bench: Bench) -> dict[str, FaultDriver]:
    return fault_drivers(faults_seen(latest_inspections(list(marks_that_count(bench.student)))))


def test_the_commonest_fault_of_a_skill_leads_with_its_count_and_drill(bench: Bench):
    make_graded_set(bench, outcome=Outcome(faults={0: ["STK"], 1: ["STK"], 2: ["DBL"]}))
    driver = drivers(bench)["isolation"]
    assert (driver.rate.code, driver.rate.faults, driver.rate.inspected) == ("STK", 2, 40)
    assert driver.drill.code == "hold-and-check"


def test_only_the_latest_three_sets_are_looked_at(bench: Bench):
    make_graded_set(bench, outcome=Outcome(faults={n: ["DBL"] for n in range(9)}))
    for nth in range(1, 4):
        make_graded_set(bench, at=STARTED + nth * DAY, outcome=Outcome(faults={0: ["STK"]}))
    driver = drivers(bench)["isolation"]
    assert (driver.rate.code, driver.rate.faults, driver.rate.inspected) == ("STK", 3, 120)


def test_a_bare_lash_is_counted_among_places_and_never_among_fans(bench: Bench):
    make_graded_set(bench, outcome=Outcome(faults={0: ["STK"]}, bare=[1, 2]))
    found = drivers(bench)
    assert (found["isolation"].rate.faults, found["isolation"].rate.inspected) == (1, 38)
    assert (found["coverage"].rate.faults, found["coverage"].rate.inspected) == (2, 40)


def test_clean_work_names_no_fault_and_no_set_costs_no_query(bench: Bench, django_assert_num_queries):
    make_graded_set(bench)
    assert drivers(bench) == {}
    with django_assert_num_queries(0):
        assert fault_drivers(faults_seen(())) == {}
