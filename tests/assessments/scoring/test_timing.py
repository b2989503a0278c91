import re
from datetime import UTC, datetime, timedelta, timezone
from itertools import product
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from assessments.scoring.timing import (
    Event,
    EventKind,
    NotAllowed,
    SetState,
    Split,
    TimeGoesBack,
    TimeWithoutZone,
    TimingError,
    next_state,
    pace_s_per_fan,
    read_clock,
)

T0 = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)

# The lives a set may have, as a pattern over one letter an event; independent of the table under test.
LETTERS = dict(zip("sprlfaig", EventKind, strict=True))
LIFE = re.compile(r"(s (l|pr)* p? (f (i g?)? | f?a)? | a)?".replace(" ", ""))


def at(minutes):
    return T0 + timedelta(minutes=minutes)


def events(*steps):
    """("start", 0), ("pause", 30), ...: minutes after T0."""
    return [Event(EventKind(kind), at(minutes)) for kind, minutes in steps]


def walk(letters):
    state = SetState.READY
    for letter in letters:
        state = next_state(state, LETTERS[letter])
    return state


# ---------------------------------------------------------------- states


def test_letters_stand_for_the_events_they_seem_to():
    assert {letter: kind.value for letter, kind in LETTERS.items()} == {
        "s": "start", "p": "pause", "r": "resume", "l": "split",
        "f": "finish", "a": "abandon", "i": "inspect", "g": "grade",
    }  # fmt: skip


def test_no_order_of_up_to_six_events_reaches_an_undrawn_state():
    """Every order, cut at its first refusal; the pattern decides which are lives."""
    alive = [""]
    for _ in range(6):
        longer = []
        for life, letter in product(alive, LETTERS):
            try:
                walk(life + letter)
            except NotAllowed:
                assert not LIFE.fullmatch(life + letter)
            else:
                assert LIFE.fullmatch(life + letter)
                longer.append(life + letter)
        alive = longer
    assert "slprfi" in alive


@given(st.text("sprlfaig", max_size=14))
@settings(max_examples=300)
def test_a_random_order_with_repeats_is_accepted_only_when_it_is_a_life(letters):
    recorded = [Event(LETTERS[letter], at(n)) for n, letter in enumerate(letters)]
    try:
        read_clock(recorded, now=at(99))
    except NotAllowed:
        assert not LIFE.fullmatch(letters)
    else:
        assert LIFE.fullmatch(letters)


@pytest.mark.parametrize(
    ("life", "state"),
    [
        ("", "ready"),
        ("s", "working"),
        ("sl", "working"),
        ("sp", "paused"),
        ("spr", "working"),
        ("sf", "finished"),
        ("spf", "finished"),
        ("sfi", "inspected"),
        ("sfig", "graded"),
        ("a", "abandoned"),
        ("sa", "abandoned"),
        ("spa", "abandoned"),
        ("sfa", "abandoned"),
    ],
)
def test_each_life_ends_in_the_state_drawn(life, state):
    assert walk(life) == state


def refusals():
    found = {}
    for state, kind in product(SetState, EventKind):
        try:
            next_state(state, kind)
        except NotAllowed as refusal:
            found[state, kind] = refusal
    return found


def test_44_of_the_56_pairs_are_refused_and_carry_what_was_tried():
    assert len(refusals()) == 56 - 12
    for (state, kind), refusal in refusals().items():
        assert (refusal.state, refusal.kind, refusal.code) == (state, kind, "not_allowed")


def test_every_refusal_says_what_is_wrong_and_what_to_do():
    for refusal in refusals().values():
        assert re.fullmatch(r"This [a-z ,;]+\. [A-Z][a-z ,]+\.", refusal.message), refusal.message


@pytest.mark.parametrize("kind", ["start", "pause", "resume", "split", "finish"])
@pytest.mark.parametrize("state", ["finished", "inspected", "graded"])
def test_bench_events_after_the_finish_say_so(state, kind):
    with pytest.raises(NotAllowed, match=r"already finished.* [Ss]tart a new set"):
        next_state(SetState(state), EventKind(kind))


def test_an_inspected_set_points_to_the_marks():
    with pytest.raises(NotAllowed) as caught:
        next_state(SetState.INSPECTED, EventKind.FINISH)
    assert caught.value.message == "This set is already finished. Start a new set, or correct the marks."


@pytest.mark.parametrize("kind", EventKind)
@pytest.mark.parametrize("state", [SetState.GRADED, SetState.ABANDONED])
def test_graded_and_abandoned_are_final(state, kind):
    with pytest.raises(NotAllowed):
        next_state(state, kind)


# ---------------------------------------------------------------- the clock, by hand


def test_a_set_not_started_shows_zero():
    clock = read_clock([], now=T0)
    assert (clock.state, clock.worked_s, clock.paused_s) == (SetState.READY, 0, 0)
    assert (clock.started_at, clock.finished_at, clock.running_since, clock.splits) == (None, None, None, ())


def test_a_running_set_counts_up_to_now_less_its_pauses():
    clock = read_clock(events(("start", 0), ("pause", 30), ("resume", 40), ("split", 50)), now=at(55))
    assert (clock.state, clock.worked_s, clock.paused_s) == (SetState.WORKING, 45 * 60, 10 * 60)
    assert (clock.started_at, clock.running_since, clock.finished_at) == (at(0), at(40), None)


def test_a_paused_set_stands_still():
    recorded = events(("start", 0), ("pause", 30))
    early, late = read_clock(recorded, now=at(31)), read_clock(recorded, now=at(90))
    assert early.worked_s == late.worked_s == 30 * 60
    assert (late.paused_s, late.running_since) == (60 * 60, None)


def test_finishing_while_paused_counts_work_up_to_the_pause():
    clock = read_clock(events(("start", 0), ("pause", 100), ("finish", 130)), now=at(500))
    assert (clock.worked_s, clock.paused_s, clock.finished_at) == (100 * 60, 30 * 60, at(130))


def test_splits_hold_worked_time_since_the_last_one_and_since_the_start():
    recorded = [
        Event(EventKind.START, at(0)),
        Event(EventKind.SPLIT, at(25), eye="left", layer="top"),
        Event(EventKind.PAUSE, at(30), reason="break"),
        Event(EventKind.RESUME, at(40)),
        Event(EventKind.SPLIT, at(60), eye="left", layer="bottom"),
    ]
    clock = read_clock(recorded, now=at(70))
    assert clock.splits == (Split("left", "top", 1500, 1500), Split("left", "bottom", 1500, 3000))


def test_an_abandoned_set_stops_where_it_was_left():
    clock = read_clock(events(("start", 0), ("abandon", 20)), now=at(300))
    assert (clock.state, clock.worked_s, clock.finished_at, clock.running_since) == (
        "abandoned",
        1200,
        None,
        None,
    )


def test_inspection_and_marks_leave_the_clock_alone():
    recorded = events(("start", 0), ("finish", 90), ("inspect", 120), ("grade", 125))
    clock = read_clock(recorded, now=at(999))
    assert (clock.state, clock.worked_s, clock.paused_s, clock.finished_at) == ("graded", 5400, 0, at(90))


def test_a_now_just_before_the_last_event_never_shows_negative_time():
    assert read_clock(events(("start", 0)), now=T0 - timedelta(seconds=2)).worked_s == 0


def test_the_hour_lost_in_spring_is_not_counted_as_work():
    """Europe/London put its clocks forward on 29 March 2026 at 01:00 UTC (last Sunday of March)."""
    london = ZoneInfo("Europe/London")
    start = datetime(2026, 3, 29, 0, 30, tzinfo=london)
    finish = datetime(2026, 3, 29, 2, 30, tzinfo=london)
    recorded = [Event(EventKind.START, start), Event(EventKind.FINISH, finish)]
    assert read_clock(recorded, now=finish).worked_s == 60 * 60


def test_the_hour_repeated_in_autumn_is_not_a_clock_that_went_back():
    """25 October 2026, 01:40 summer time comes 20 minutes before 01:00 winter time."""
    london = ZoneInfo("Europe/London")
    start = datetime(2026, 10, 25, 1, 40, fold=0, tzinfo=london)
    finish = datetime(2026, 10, 25, 1, 0, fold=1, tzinfo=london)
    recorded = [Event(EventKind.START, start), Event(EventKind.FINISH, finish)]
    assert read_clock(recorded, now=finish).worked_s == 20 * 60


def test_instants_in_different_zones_agree():
    start = at(0).astimezone(timezone(timedelta(hours=9)))
    recorded = [Event(EventKind.START, start), Event(EventKind.FINISH, at(90))]
    assert read_clock(recorded, now=at(90)).worked_s == 5400


# ---------------------------------------------------------------- the clock, against ticks


@st.composite
def timed_lives(draw):
    letters = draw(st.from_regex(LIFE, fullmatch=True))
    assume(letters and len(letters) <= 12)
    gaps = draw(st.lists(st.integers(0, 40), min_size=len(letters) + 1, max_size=len(letters) + 1))
    seconds = [sum(gaps[: n + 1]) for n in range(len(gaps))]
    recorded = [
        Event(LETTERS[letter], T0 + timedelta(seconds=second))
        for letter, second in zip(letters, seconds, strict=False)
    ]
    return letters, seconds, recorded, T0 + timedelta(seconds=seconds[-1])


@given(timed_lives())
@settings(max_examples=150)
def test_the_clock_equals_a_stopwatch_that_ticks_every_second(life):
    letters, seconds, recorded, now = life
    worked = paused = 0
    for tick in range(seconds[-1]):
        before = [letter for letter, second in zip(letters, seconds, strict=False) if second <= tick]
        doing = next((letter for letter in reversed(before) if letter != "l"), "")
        worked += doing in ("s", "r")
        paused += doing == "p"
    clock = read_clock(recorded, now=now)
    assert (clock.worked_s, clock.paused_s) == (worked, paused)


@given(timed_lives())
@settings(max_examples=150)
def test_worked_and_paused_fill_the_time_from_start_to_finish(life):
    letters, _, recorded, now = life
    clock = read_clock(recorded, now=now)
    if clock.finished_at and "a" not in letters:
        assert clock.worked_s + clock.paused_s == (clock.finished_at - clock.started_at).total_seconds()
    if clock.splits:
        assert sum(split.worked_s for split in clock.splits) == pytest.approx(clock.splits[-1].total_s)
        assert clock.splits[-1].total_s <= clock.worked_s
    assert len(clock.splits) == letters.count("l")


@given(timed_lives(), st.integers(0, 10_000))
@settings(max_examples=80)
def test_reading_again_later_changes_only_a_clock_that_runs(life, wait):
    _, _, recorded, now = life
    first, second = (read_clock(recorded, now=now + timedelta(seconds=s)) for s in (0, wait))
    assert second.worked_s - first.worked_s == (wait if first.state == "working" else 0)
    assert second.paused_s - first.paused_s == (wait if first.state == "paused" else 0)
    assert second.splits == first.splits


# ---------------------------------------------------------------- bad instants


def test_a_finish_before_the_start_names_both_times():
    with pytest.raises(TimeGoesBack) as caught:
        read_clock(events(("start", 30), ("finish", 2)), now=at(60))
    assert caught.value.code == "time_goes_back"
    assert caught.value.message == (
        "Finish at 14:02 lies before start at 14:30. Check the clock of this device."
    )


def test_times_on_different_days_are_told_with_their_dates():
    with pytest.raises(
        TimeGoesBack, match="Pause at 01 March 2026, 14:00 lies before start at 02 March 2026, 14:00"
    ):
        read_clock(events(("start", 0), ("pause", -24 * 60)), now=at(60))


def test_times_in_the_same_minute_are_told_with_their_seconds():
    recorded = [Event(EventKind.START, T0 + timedelta(seconds=9)), Event(EventKind.PAUSE, T0)]
    with pytest.raises(TimeGoesBack, match=r"Pause at 14:00:00\.0+ lies before start at 14:00:09"):
        read_clock(recorded, now=at(60))


def test_two_events_at_the_same_instant_are_in_order():
    assert read_clock(events(("start", 0), ("pause", 0)), now=at(1)).state == "paused"


@pytest.mark.parametrize("naive", ["event", "now"])
def test_an_instant_without_a_time_zone_is_refused(naive):
    bare = T0.replace(tzinfo=None)
    recorded = [Event(EventKind.START, bare if naive == "event" else T0)]
    with pytest.raises(TimeWithoutZone, match=r"The time 14:00 has no time zone\. Send it with one\."):
        read_clock(recorded, now=bare if naive == "now" else T0)


# ---------------------------------------------------------------- pace


@pytest.mark.parametrize(
    ("minutes", "seconds"), [(300, 112.5), (240, 90), (180, 67.5), (150, 56.25), (120, 45.0)]
)
def test_a_budget_of_160_fans_gives_this_pace(minutes, seconds):
    """Arithmetic: minutes * 60 / 160."""
    assert pace_s_per_fan(minutes * 60, 160) == seconds


@pytest.mark.parametrize(
    ("worked_s", "fans", "code"),
    [(60, 0, "no_fans"), (60, -1, "no_fans"), (-1, 10, "bad_duration"), (float("nan"), 10, "bad_duration")],
)
def test_a_pace_that_has_no_meaning_is_refused(worked_s, fans, code):
    with pytest.raises(TimingError) as caught:
        pace_s_per_fan(worked_s, fans)
    assert caught.value.code == code
