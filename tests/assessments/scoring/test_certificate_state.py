"""One word for how a certificate stands."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.scoring.certificate_state import State, certificate_state, is_suspended, months_later

FROM, UNTIL = datetime(2026, 3, 2, 9, tzinfo=UTC), datetime(2028, 3, 2, 9, tzinfo=UTC)
SECOND = timedelta(seconds=1)
EVENTS = st.lists(st.sampled_from(["suspended", "restored", "revoked", "replaced"]), max_size=8)


def state(at: datetime = FROM, events: list[str] | None = None, until: datetime | None = UNTIL) -> State:
    return certificate_state(valid_from=FROM, valid_until=until, events=events or [], at=at)


@pytest.mark.parametrize(
    ("at", "word"),  # RFC 7519 section 4.1.5: not before nbf; 4.1.4: not on or after exp
    [
        (FROM - SECOND, "not yet valid"),
        (FROM, "valid"),
        (UNTIL - SECOND, "valid"),
        (UNTIL, "expired"),
        (UNTIL + SECOND, "expired"),
    ],
)
def test_it_is_valid_from_its_first_second_to_the_last_before_its_end(at, word):
    assert state(at) == word


def test_without_an_end_it_never_expires():
    assert state(UNTIL + timedelta(days=36_500), until=None) == State.VALID


@pytest.mark.parametrize(
    ("events", "word"),
    [
        (["suspended"], "suspended"),
        (["suspended", "restored"], "valid"),
        (["suspended", "restored", "suspended"], "suspended"),
        (["revoked"], "revoked"),
        (["suspended", "revoked"], "revoked"),
        (["replaced"], "replaced"),
    ],
)
def test_what_happened_last_counts(events, word):
    assert state(events=events) == word


@pytest.mark.parametrize("at", [FROM - SECOND, FROM, UNTIL])
def test_what_the_school_decided_stands_before_what_the_dates_say(at):
    assert state(at, ["suspended"]) == State.SUSPENDED
    assert state(at, ["revoked"]) == State.REVOKED


@given(EVENTS, EVENTS)
def test_a_revocation_is_one_way_whatever_comes_before_or_after(before, after):
    """Bitstring Status List 1.0, statusPurpose: revocation is not reversible, suspension is."""
    assert state(events=[*before, "revoked", *after]) == State.REVOKED


@given(EVENTS)
def test_it_counts_only_when_nothing_stands_against_it(events):
    counts = state(events=events) == State.VALID
    assert counts == (not {"revoked", "replaced"} & set(events) and not is_suspended(events))


@pytest.mark.parametrize(
    ("start", "months", "end"),  # value from memory: the calendar
    [
        ((2026, 3, 2), 24, (2028, 3, 2)),
        ((2026, 1, 31), 1, (2026, 2, 28)),
        ((2028, 1, 31), 1, (2028, 2, 29)),
        ((2028, 2, 29), 12, (2029, 2, 28)),
        ((2026, 12, 15), 1, (2027, 1, 15)),
        ((2026, 11, 30), 3, (2027, 2, 28)),
        ((2026, 5, 31), 600, (2076, 5, 31)),
    ],
)
def test_months_are_counted_by_the_calendar(start, months, end):
    assert months_later(datetime(*start, 9, 30, tzinfo=UTC), months) == datetime(*end, 9, 30, tzinfo=UTC)
