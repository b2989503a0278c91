"""Events that come together are read and written together, and still each stands or falls alone."""

from datetime import timedelta

from django.db import connection
from django.test.utils import CaptureQueriesContext

from assessments.models import Position, PracticeSet
from tests.factories.assessments import STARTED, Bench
from tests.factories.bench import apply, event, finished_set, working_set

NOW = STARTED + timedelta(hours=5)
DONE = STARTED + timedelta(hours=2)


def found(index: int, *faults: str):
    return event("position", NOW, index=index, finding="faulty" if faults else "clean", faults=list(faults))


def ticked(made: PracticeSet, index: int) -> set[str]:
    position = Position.objects.get(inspection__practice_set=made, index=index)
    return set(position.faults.values_list("code", flat=True))


def test_an_inspection_closed_too_early_is_refused_and_the_findings_before_it_are_kept(bench: Bench):
    made = finished_set(bench)
    results = apply(bench, made, [found(0), found(1, "STK"), event("inspect", NOW), found(2)], now=NOW)
    assert [result.status for result in results] == ["applied", "applied", "refused", "applied"]
    seen = Position.objects.filter(inspection__practice_set=made).exclude(finding="unseen")
    assert [position.index for position in seen] == [0, 1, 2]
    assert ticked(made, 1) == {"STK"}
    made.refresh_from_db()
    assert made.state == "finished"


def test_a_position_found_twice_in_one_batch_keeps_the_last_finding(bench: Bench):
    made = finished_set(bench)
    apply(bench, made, [found(0, "STK", "BED"), found(0, "BED", "NOW")], now=NOW)
    assert ticked(made, 0) == {"BED", "NOW"}
    apply(bench, made, [found(0, "STK")], now=NOW)
    assert ticked(made, 0) == {"STK"}
    apply(bench, made, [found(0)], now=NOW)
    assert ticked(made, 0) == set()


def test_a_refused_step_leaves_the_clock_as_the_steps_around_it_made_it(bench: Bench):
    made = working_set(bench)
    steps = [
        event("resume", STARTED + timedelta(minutes=10)),
        event("pause", STARTED + timedelta(minutes=30)),
        event("pause", STARTED + timedelta(minutes=40)),
        event("finish", DONE),
    ]
    results = apply(bench, made, steps, now=DONE)
    assert [result.status for result in results] == ["refused", "applied", "refused", "applied"]
    made.refresh_from_db()
    assert (made.state, made.finished_at, made.worked_s) == ("finished", DONE, 30 * 60)


def test_thirty_six_clean_fans_cost_as_many_queries_as_four(bench: Bench):
    made = finished_set(bench)
    with CaptureQueriesContext(connection) as few:
        apply(bench, made, [found(index) for index in range(4)], now=NOW)
    with CaptureQueriesContext(connection) as many:
        apply(bench, made, [found(index) for index in range(4, 40)], now=NOW)
    assert len(many) == len(few)
