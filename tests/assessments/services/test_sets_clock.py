"""Whose clock counts: the device's for up to two days, unless it cannot be right."""

from datetime import timedelta

import pytest

from academy.models import Academy
from tests.factories.assessments import STARTED, Bench
from tests.factories.bench import apply, event, happens, open_ready_set, why, working_set

HOUR = timedelta(hours=1)
SECOND = timedelta(seconds=1)


def test_what_happened_without_wifi_keeps_the_instants_of_the_device(bench: Bench):
    made = open_ready_set(bench)
    happens(bench, made, [event("start", STARTED), event("finish", STARTED + HOUR)], now=STARTED + 40 * HOUR)
    assert (made.started_at, made.finished_at, made.worked_s) == (STARTED, STARTED + HOUR, 3600)


@pytest.mark.parametrize(("late", "status"), [(48 * HOUR, "applied"), (48 * HOUR + SECOND, "refused")])
def test_two_days_is_the_longest_an_event_may_wait(bench: Bench, late, status):
    made = open_ready_set(bench)
    (result,) = apply(bench, made, [event("start", STARTED)], now=STARTED + late)
    assert result.status == status


def test_without_an_instant_the_moment_of_arrival_counts(bench: Bench):
    made = open_ready_set(bench)
    happens(bench, made, [event("start")], now=STARTED + HOUR)
    assert made.started_at == STARTED + HOUR


@pytest.mark.parametrize("ahead", [SECOND, 30 * SECOND])
def test_a_device_some_seconds_ahead_is_taken_as_now(bench: Bench, ahead):
    made = open_ready_set(bench)
    happens(bench, made, [event("start", STARTED + ahead)], now=STARTED)
    assert made.started_at == STARTED


def test_a_device_some_seconds_behind_cannot_start_a_set_before_it_was_opened(bench: Bench):
    made = open_ready_set(bench)
    happens(bench, made, [event("start", STARTED - 20 * SECOND)], now=STARTED + SECOND)
    assert made.started_at == STARTED


@pytest.mark.parametrize("wrong", [31 * SECOND, HOUR, 24 * HOUR])
def test_a_clock_ahead_is_refused_with_what_both_clocks_say(bench: Bench, wrong):
    made = open_ready_set(bench)
    (no,) = apply(bench, made, [event("start", STARTED + wrong)], now=STARTED)
    assert (no.status, why(no).code, made.state) == ("refused", "clock_wrong", "ready")
    assert why(no).message.startswith("This device says")
    assert "the server 02 February 09:00. Set the clock of the device" in why(no).message


def test_a_clock_an_hour_behind_is_caught_at_the_start(bench: Bench):
    made = open_ready_set(bench)
    (no,) = apply(bench, made, [event("start", STARTED - HOUR)], now=STARTED)
    assert (no.status, why(no).code) == ("refused", "clock_wrong")
    assert "says 02 February 08:00, but the set was opened on 02 February 09:00" in why(no).message


def test_a_finish_before_the_start_is_refused(bench: Bench):
    made = working_set(bench, at=STARTED)
    pause, finish = event("pause", STARTED + 2 * HOUR), event("finish", STARTED + HOUR)
    applied, no = apply(bench, made, [pause, finish], now=STARTED + 3 * HOUR)
    assert (applied.status, no.status, why(no).code) == ("applied", "refused", "time_goes_back")
    assert "Finish at 10:00 lies before pause at 11:00" in why(no).message
    assert (made.state, made.finished_at) == ("paused", None)


def test_sentences_tell_the_time_of_the_academy(bench: Bench):
    # Madrid is one hour ahead of UTC in February: tz database.
    Academy.objects.filter(pk=bench.academy.pk).update(time_zone="Europe/Madrid")
    bench.educator.academy.refresh_from_db()
    made = working_set(bench)
    ahead, back = event("pause", STARTED + 5 * HOUR), event("pause", STARTED + HOUR)
    happens(bench, made, [event("pause", STARTED + 2 * HOUR), event("resume", STARTED + 2 * HOUR)],
            now=STARTED + 3 * HOUR)  # fmt: skip
    first, second = apply(bench, made, [ahead, back], now=STARTED + 3 * HOUR)
    assert "15:00, the server 02 February 13:00" in why(first).message
    assert "Pause at 11:00 lies before resume at 12:00" in why(second).message


def test_a_finding_with_a_wrong_clock_is_refused_too(bench: Bench):
    made = working_set(bench)
    happens(bench, made, [event("finish", STARTED + HOUR)], now=STARTED + HOUR)
    look = event("position", STARTED + 9 * HOUR, index=0, finding="clean")
    (no,) = apply(bench, made, [look], now=STARTED + 2 * HOUR)
    assert why(no).code == "clock_wrong"
