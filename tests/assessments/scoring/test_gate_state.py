"""The gate opens by two signatures on one evidence, and by nothing else; time alone shuts it."""

from datetime import UTC, datetime, timedelta
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.scoring.gate_state import (
    EDUCATOR,
    LAPSED,
    OPEN,
    REACHED,
    SHUT,
    STUDENT,
    WAITING_FOR_EDUCATOR,
    WAITING_FOR_STUDENT,
    Opened,
    Signed,
    gate_state,
    lapsed_at,
    lapses_at,
    standing_signatures,
)

OPENED = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
NINETY = timedelta(days=90)
BOTH = frozenset({STUDENT, EDUCATOR})


def days(*numbers: float) -> list[datetime]:
    """Instants so many days after the opening."""
    return [OPENED + timedelta(days=number) for number in numbers]


class TestState:
    @pytest.mark.parametrize(
        ("met", "sides", "opened", "state"),
        [
            (False, frozenset(), None, SHUT),
            (True, frozenset(), None, REACHED),
            (True, {STUDENT}, None, WAITING_FOR_EDUCATOR),
            (True, {EDUCATOR}, None, WAITING_FOR_STUDENT),
            (False, {STUDENT}, None, SHUT),
            (True, frozenset(), Opened(OPENED), OPEN),
            (False, frozenset(), Opened(OPENED), SHUT),
            (False, frozenset(), Opened(OPENED, "lapse"), LAPSED),
            (True, frozenset(), Opened(OPENED, "lapse"), REACHED),
            (True, {STUDENT}, Opened(OPENED, "by_hand"), WAITING_FOR_EDUCATOR),
            (False, frozenset(), Opened(OPENED, "conditions"), SHUT),
        ],
    )
    def test_it_follows_from_conditions_signatures_and_the_newest_opening(self, met, sides, opened, state):
        assert gate_state(met=met, sides=frozenset(sides), opened=opened) == state

    def test_it_is_never_open_with_a_condition_unmet_nor_without_an_opening_that_holds(self):
        sides = [frozenset(), frozenset({STUDENT}), frozenset({EDUCATOR}), BOTH]
        openings = [None, *(Opened(OPENED, ended) for ended in ("", "lapse", "conditions", "by_hand"))]
        for met, signed, opened in product((True, False), sides, openings):
            state = gate_state(met=met, sides=signed, opened=opened)
            assert (state == OPEN) == bool(met and opened and not opened.ended)


class TestSignatures:
    def test_only_a_signature_on_what_stands_now_counts(self):
        signed = [Signed(STUDENT, OPENED, "old"), Signed(EDUCATOR, OPENED, "new")]
        assert standing_signatures(signed, "new") == {EDUCATOR}

    def test_the_newest_of_a_side_counts(self):
        earlier, later = days(-2, -1)
        signed = [Signed(STUDENT, later, "new"), Signed(STUDENT, earlier, "old")]
        assert standing_signatures(signed, "new") == {STUDENT}
        assert standing_signatures(signed, "old") == frozenset()

    def test_nobody_has_signed(self):
        assert standing_signatures([], "new") == frozenset()


class TestLapse:
    def test_it_lapses_when_the_pause_is_full_and_not_an_instant_before(self):
        last = OPENED - timedelta(days=3)
        full = last + NINETY
        assert lapsed_at(OPENED, [last], 90, now=full - timedelta(seconds=1)) is None
        assert lapsed_at(OPENED, [last], 90, now=full) == full
        assert lapsed_at(OPENED, [last], 90, now=full + NINETY) == full

    def test_a_graded_set_starts_the_time_afresh(self):
        assert lapsed_at(OPENED, days(-3, 80), 90, now=OPENED + timedelta(days=160)) is None
        assert lapsed_at(OPENED, days(-3, 80), 90, now=OPENED + timedelta(days=170)) == days(170)[0]

    def test_a_set_graded_after_the_pause_does_not_mend_it(self):
        """Looked at late or early, the answer is the same: nobody has to look in time."""
        graded = days(-3, 100)
        assert lapsed_at(OPENED, graded, 90, now=OPENED + timedelta(days=101)) == days(87)[0]

    def test_what_is_graded_after_now_does_not_count_yet(self):
        assert lapsed_at(OPENED, days(-3, 95), 90, now=OPENED + timedelta(days=88)) == days(87)[0]

    def test_without_any_graded_set_the_time_runs_from_the_opening(self):
        assert lapsed_at(OPENED, [], 90, now=OPENED + NINETY) == OPENED + NINETY

    def test_when_it_will_lapse_is_told_from_the_last_graded_set(self):
        assert lapses_at(days(-3, 5), 90) == days(95)[0]
        assert lapses_at([], 90) is None

    @given(
        graded=st.lists(st.integers(-200, 400), max_size=12),
        lapse=st.integers(1, 200),
        looked=st.lists(st.integers(0, 400), min_size=2, max_size=2),
    )
    def test_once_lapsed_it_stays_lapsed_at_the_same_instant(self, graded, lapse, looked):
        early, late = sorted(days(*looked))
        first = lapsed_at(OPENED, days(*graded), lapse, now=early)
        if first is not None:
            assert first <= early
            assert lapsed_at(OPENED, days(*graded), lapse, now=late) == first

    @given(
        graded=st.lists(st.integers(-200, 400), max_size=12),
        lapse=st.integers(1, 200),
        now=st.integers(0, 400),
    )
    def test_it_holds_exactly_while_no_pause_is_too_long(self, graded, lapse, now):
        """Against a walk day by day, with instants at whole days."""
        before = [each for each in graded if each <= 0]
        marks = {max(before, default=0), *(each for each in graded if 0 < each <= now)}
        idle = [day - max(mark for mark in marks if mark <= day) for day in range(now + 1)]
        # The day of a set itself: the pause that it ends may have been full on that very day.
        ends = [day - max((mark for mark in marks if mark < day), default=day) for day in marks if day > 0]
        too_long = any(each >= lapse for each in idle + ends)
        assert (lapsed_at(OPENED, days(*graded), lapse, now=days(now)[0]) is not None) == too_long
