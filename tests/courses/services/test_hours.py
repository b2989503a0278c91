from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from academy.errors import NotHere
from academy.models import AuditEntry, RecordIsFinal
from courses.models import HoursEntry
from courses.selectors.hours import hours_total, ledger
from courses.services.enrolments import EnrolmentEnded, ReasonMissing, end_enrolment
from courses.services.hours import (
    HoursAlreadyCorrected,
    HoursContent,
    HoursFromTheFuture,
    HoursOfOneRefused,
    MoreThanADay,
    NoTimeEntered,
    correct_hours,
    enter_group_hours,
    enter_hours,
)
from tests.factories.programmes import make_enrolment, make_hours, make_programme

DAY = date(2026, 3, 2)
THREE_HOURS = HoursContent(kind="theory", minutes=180, on=DAY, note="Hygiene")


@pytest.fixture
def enrolment(cast):
    return make_enrolment(cast.ada, cast.owner)


def theory(enrolment):
    return hours_total(enrolment)["theory"]


def test_hours_are_entered_and_told_in_the_record(cast, enrolment, now):
    unit = enrolment.version.units.all()[0]
    content = replace(THREE_HOURS, unit=unit)
    entry = enter_hours(enrolment=enrolment, content=content, actor=cast.ines, now=now)
    entry.refresh_from_db()
    assert (entry.kind, entry.minutes, entry.on, entry.unit, entry.note) == (
        "theory",
        180,
        DAY,
        unit,
        "Hygiene",
    )
    assert AuditEntry.objects.get(action="enter_hours").after["minutes"] == 180


def test_hours_to_come_are_not_entered_and_the_academys_clock_says_which_day_it_is(cast, enrolment, now):
    with pytest.raises(HoursFromTheFuture):
        enter_hours(
            enrolment=enrolment, content=replace(THREE_HOURS, on=date(2026, 3, 3)), actor=cast.ines, now=now
        )
    # 23:30 UTC on 2 March is 12:30 on 3 March in Auckland (UTC+13 in summer time).
    cast.academy.time_zone = "Pacific/Auckland"
    cast.academy.save()
    late = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    content = replace(THREE_HOURS, on=date(2026, 3, 3))
    assert enter_hours(enrolment=enrolment, content=content, actor=cast.ines, now=late).pk


def test_no_time_is_not_hours(cast, enrolment, now):
    with pytest.raises(NoTimeEntered):
        enter_hours(enrolment=enrolment, content=replace(THREE_HOURS, minutes=0), actor=cast.ines, now=now)


def test_a_day_has_24_hours_whatever_is_entered_for_it(cast, enrolment, now):
    enter_hours(enrolment=enrolment, content=replace(THREE_HOURS, minutes=1380), actor=cast.ines, now=now)
    with pytest.raises(MoreThanADay, match="2 March 2026 already has 23 h 00 min"):
        enter_hours(enrolment=enrolment, content=replace(THREE_HOURS, minutes=61), actor=cast.ines, now=now)
    enter_hours(enrolment=enrolment, content=replace(THREE_HOURS, minutes=60), actor=cast.ines, now=now)
    assert theory(enrolment) == 24 * 60


def test_a_unit_of_another_programme_is_not_hers(cast, enrolment, now):
    other = make_programme(cast.owner, "Another course").units.all()[0]
    with pytest.raises(NotHere):
        enter_hours(enrolment=enrolment, content=replace(THREE_HOURS, unit=other), actor=cast.ines, now=now)


def test_a_correction_counts_instead_and_the_entry_before_stays_readable(cast, enrolment, now):
    first = make_hours(enrolment, cast.ines, minutes=120)
    content = HoursContent(kind="online", minutes=90, on=first.on)
    correct_hours(entry=first, content=content, reason=" It was online. ", actor=cast.second, now=now)
    total = hours_total(enrolment)
    assert (total["theory"], total["online"]) == (0, 90)
    (line,) = ledger(enrolment)
    assert (line.entry.reason, line.entry.entered_by, line.replaced) == (
        "It was online.",
        cast.second,
        (first,),
    )
    entry = AuditEntry.objects.get(action="correct_hours")
    assert (entry.before["minutes"], entry.after["minutes"], entry.reason) == (120, 90, "It was online.")


def test_nought_minutes_take_an_entry_back(cast, enrolment, now):
    first = make_hours(enrolment, cast.ines, minutes=120)
    content = HoursContent(kind="theory", minutes=0, on=first.on)
    correct_hours(entry=first, content=content, reason="Somebody else.", actor=cast.ines, now=now)
    assert theory(enrolment) == 0


def test_a_correction_may_itself_be_corrected_but_an_entry_only_once(cast, enrolment, now):
    first = make_hours(enrolment, cast.ines, minutes=120)
    content = HoursContent(kind="theory", minutes=90, on=first.on)
    second = correct_hours(entry=first, content=content, reason="once", actor=cast.ines, now=now)
    with pytest.raises(HoursAlreadyCorrected):
        correct_hours(entry=first, content=content, reason="twice", actor=cast.ines, now=now)
    third = replace(content, minutes=60)
    correct_hours(entry=second, content=third, reason="again", actor=cast.ines, now=now)
    assert theory(enrolment) == 60
    (line,) = ledger(enrolment)
    assert [old.minutes for old in line.replaced] == [90, 120]


def test_a_corrected_entry_no_longer_fills_its_day(cast, enrolment, now):
    whole = make_hours(enrolment, cast.ines, minutes=1440)
    content = HoursContent(kind="theory", minutes=1440, on=whole.on)
    correct_hours(entry=whole, content=content, reason="same day", actor=cast.ines, now=now)
    assert theory(enrolment) == 1440


def test_a_correction_needs_a_reason_and_keeps_to_the_same_rules(cast, enrolment, now):
    first = make_hours(enrolment, cast.ines)
    with pytest.raises(ReasonMissing):
        correct_hours(entry=first, content=THREE_HOURS, reason=" ", actor=cast.ines, now=now)
    with pytest.raises(HoursFromTheFuture):
        correct_hours(
            entry=first,
            content=replace(THREE_HOURS, on=DAY + timedelta(days=1)),
            reason="why",
            actor=cast.ines,
            now=now,
        )
    make_hours(enrolment, cast.ines, on=DAY - timedelta(days=1), minutes=1400)
    with pytest.raises(MoreThanADay):
        correct_hours(
            entry=first,
            content=replace(THREE_HOURS, on=DAY - timedelta(days=1)),
            reason="why",
            actor=cast.ines,
            now=now,
        )


def test_after_the_end_nothing_is_added_but_what_is_wrong_can_still_be_corrected(cast, enrolment, now):
    first = make_hours(enrolment, cast.ines)
    end_enrolment(enrolment=enrolment, reason="left", actor=cast.owner, now=now)
    with pytest.raises(EnrolmentEnded):
        enter_hours(enrolment=enrolment, content=THREE_HOURS, actor=cast.ines, now=now)
    correct_hours(entry=first, content=THREE_HOURS, reason="wrong day", actor=cast.ines, now=now)
    assert theory(enrolment) == 180


def test_a_group_gets_the_same_hours_or_nobody_gets_any(cast, enrolment, now):
    other = make_enrolment(cast.bea, cast.owner)
    make_hours(other, cast.ines, on=DAY - timedelta(days=10), minutes=1440)
    busy = replace(THREE_HOURS, on=DAY - timedelta(days=10))
    with pytest.raises(HoursOfOneRefused, match=r"^Bea Holm: .* already has 24 h 00 min") as refused:
        enter_group_hours(students=[cast.ada, cast.bea], content=busy, actor=cast.ines, now=now)
    assert (refused.value.code, refused.value.details["field"]) == ("more_than_a_day", "minutes")
    assert theory(enrolment) == 0
    enter_group_hours(students=[cast.ada, cast.bea], content=THREE_HOURS, actor=cast.ines, now=now)
    assert (theory(enrolment), theory(other)) == (180, 1440 + 180)


def test_in_a_group_a_student_on_no_programme_is_named(cast, enrolment, now):
    with pytest.raises(HoursOfOneRefused, match="Bea Holm: "):
        enter_group_hours(students=[cast.ada, cast.bea], content=THREE_HOURS, actor=cast.ines, now=now)


def test_an_entry_is_never_changed_or_removed(cast, enrolment):
    row = make_hours(enrolment, cast.ines)
    for attempt in (row.save, row.delete, HoursEntry.objects.all().delete):
        with pytest.raises(RecordIsFinal):
            attempt()
