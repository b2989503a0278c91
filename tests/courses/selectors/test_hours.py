from datetime import date, timedelta
from decimal import Decimal

import pytest

from academy.errors import NotHere
from courses.models import HoursKind
from courses.selectors.hours import entry, hours_total, ledger, minutes_of, minutes_on, theory_minutes
from courses.services.hours import HoursContent, correct_hours
from tests.factories.programmes import ATTENDED, make_enrolment, make_hours


@pytest.fixture
def enrolment(cast):
    return make_enrolment(cast.ada, cast.owner)


@pytest.mark.parametrize(
    ("hours", "minutes"),
    [
        (None, 0),
        (Decimal(0), 0),
        (Decimal("0.25"), 15),
        (Decimal(30), 1800),  # A.A.C. R4-10-B307: 10 theory + 20 clinical hours
        (Decimal(320), 19_200),  # 16 TAC 83.120, the version with the 320 hour course
        (Decimal("0.01"), 1),  # 36 seconds: rounded up, so that nobody is done a minute early
    ],
)
def test_decimal_hours_are_whole_minutes(hours, minutes):
    assert minutes_of(hours) == minutes


def test_every_kind_has_a_total_also_one_without_entries(enrolment):
    assert hours_total(enrolment) == dict.fromkeys(HoursKind.values, 0)


def test_online_hours_and_field_trips_are_kept_apart_and_count_as_theory(cast, enrolment):
    """16 TAC 83.120: of 320 hours at most 80 at a distance, 15 on field trips: each needs its own total."""
    for nth, kind in enumerate(("theory", "online", "field_trip", "practical")):
        make_hours(enrolment, cast.ines, kind=kind, minutes=60 * (nth + 1), on=ATTENDED + timedelta(days=nth))
    total = hours_total(enrolment)
    assert total == {"theory": 60, "online": 120, "field_trip": 180, "practical": 240}
    assert theory_minutes(total) == 360


def test_the_total_of_a_day_leaves_out_what_was_replaced(cast, enrolment, now):
    first = make_hours(enrolment, cast.ines, minutes=120)
    make_hours(enrolment, cast.ines, kind="practical", minutes=30)
    make_hours(enrolment, cast.ines, minutes=60, on=ATTENDED + timedelta(days=1))
    content = HoursContent(kind="theory", minutes=100, on=ATTENDED)
    correct_hours(entry=first, content=content, reason="why", actor=cast.ines, now=now)
    assert minutes_on(enrolment, ATTENDED) == 130
    assert minutes_on(enrolment, date(2025, 1, 1)) == 0


def test_the_ledger_runs_by_day_not_by_when_it_was_entered(cast, enrolment):
    """21 NCAC 14T .0502 asks for a running grand total."""
    make_hours(enrolment, cast.ines, minutes=60, on=ATTENDED + timedelta(days=2))
    make_hours(enrolment, cast.ines, minutes=90, on=ATTENDED)
    told = [(line.entry.on, line.running_minutes) for line in ledger(enrolment)]
    assert told == [(ATTENDED + timedelta(days=2), 150), (ATTENDED, 90)]


def test_a_correction_moved_to_another_day_stands_there(cast, enrolment, now):
    first = make_hours(enrolment, cast.ines, minutes=60, on=ATTENDED)
    make_hours(enrolment, cast.ines, minutes=30, on=ATTENDED + timedelta(days=1))
    moved = HoursContent(kind="theory", minutes=60, on=ATTENDED + timedelta(days=2))
    correct_hours(entry=first, content=moved, reason="wrong day", actor=cast.ines, now=now)
    assert [line.running_minutes for line in ledger(enrolment)] == [90, 30]


def test_an_entry_that_was_replaced_or_belongs_next_door_is_not_here(cast, enrolment, now):
    first = make_hours(enrolment, cast.ines)
    assert entry(cast.academy, first.pk) == first
    with pytest.raises(NotHere):
        entry(cast.other_academy, first.pk)
    content = HoursContent(kind="theory", minutes=10, on=first.on)
    new = correct_hours(entry=first, content=content, reason="why", actor=cast.ines, now=now)
    assert entry(cast.academy, new.pk) == new
    with pytest.raises(NotHere):
        entry(cast.academy, first.pk)
