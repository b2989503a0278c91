from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from academy.errors import NotHere
from courses.selectors import enrolments as find
from courses.services.enrolments import end_enrolment
from courses.services.programmes import copy_programme_version
from courses.services.sign_offs import sign_off
from tests.factories.programmes import HYGIENE, INFILL, make_enrolment, make_programme, next_version


def sign(enrolment, actor, *codes, now):
    units = list(enrolment.version.units.filter(code__in=codes))
    sign_off(enrolment=enrolment, units=units, passed=True, actor=actor, now=now)


def test_the_open_enrolment_is_found_with_its_units_in_two_queries(cast):
    make_enrolment(cast.ada, cast.owner)
    with CaptureQueriesContext(connection) as asked:
        found = find.open_enrolment(cast.ada)
        assert (found.version.programme.name, len(found.version.units.all())) == ("Course of Ada Marsh", 3)
    assert len(asked) == 2
    assert find.open_enrolment(cast.bea) is None
    with pytest.raises(NotHere):
        find.the_open_enrolment(cast.bea)


def test_an_ended_enrolment_is_shown_until_there_is_a_newer_one(cast, now):
    first = make_enrolment(cast.ada, cast.owner)
    end_enrolment(enrolment=first, reason="left", actor=cast.owner, now=now)
    assert find.current_of(list(find.enrolments_of(cast.ada))) == first
    second = make_enrolment(cast.ada, cast.owner, make_programme(cast.owner, "Again"))
    assert find.current_of(list(find.enrolments_of(cast.ada))) == second
    assert find.current_of([]) is None


def test_a_student_who_left_is_still_found_and_nobody_else_is(cast, now):
    cast.ada.left_at = now
    cast.ada.save()
    assert find.student(cast.academy, cast.ada.pk) == cast.ada
    for other in (cast.ines.pk, cast.omar_student.pk, 987_654_321):
        with pytest.raises(NotHere):
            find.student(cast.academy, other)


def test_states_of_units_cost_one_query_whatever_was_said(cast, now):
    enrolment = make_enrolment(cast.ada, cast.owner)
    for day in range(3):
        sign(enrolment, cast.ines, "hygiene", now=now + timedelta(days=day))
    found = find.open_enrolment(cast.ada)
    with CaptureQueriesContext(connection) as asked:
        states = find.unit_states(found)
        assert [state.sign_off.signed_by.name for state in states if state.sign_off] == ["Ines Carvalho"]
    assert len(asked) == 1
    assert [len(state.earlier) for state in states] == [2, 0, 0]


def test_a_state_is_told_on_the_day_it_was_here(cast):
    enrolment = make_enrolment(cast.ada, cast.owner)
    # 23:30 UTC on 2 March is 12:30 on 3 March in Auckland (UTC+13 in summer time).
    sign(enrolment, cast.ines, "hygiene", now=datetime(2026, 3, 2, 23, 30, tzinfo=UTC))
    with timezone.override("Pacific/Auckland"):
        said = [state.words for state in find.unit_states(enrolment)]
    assert said == ["passed, 3 March 2026, Ines Carvalho", "not signed off yet", "not signed off yet"]


def test_only_the_newest_published_version_of_her_programme_is_newer(cast, now):
    first = make_programme(cast.owner)
    enrolment = make_enrolment(cast.ada, cast.owner, first)
    assert find.newer_versions(enrolment) == []
    second = next_version(first, cast.owner)
    third = next_version(second, cast.owner)
    copy_programme_version(version=third, actor=cast.owner, now=now)
    other = make_programme(cast.owner, "Another course")
    assert find.newer_versions(enrolment) == [third]
    assert find.newer_version(enrolment, third.pk) == third
    for version in (first, second, other):
        with pytest.raises(NotHere):
            find.newer_version(enrolment, version.pk)


def test_what_changes_is_told_and_what_no_longer_counts(cast, now):
    first = make_programme(cast.owner)
    enrolment = make_enrolment(cast.ada, cast.owner, first)
    sign(enrolment, cast.ines, "hygiene", "removal", now=now)
    newer = next_version(first, cast.owner, units=(HYGIENE, INFILL), hours_source="Another rule")
    told = [(each.subject, each.after) for each in find.differences(first, newer)]
    assert told == [
        ("Where these hours come from", "Another rule, last checked on 5 January 2026"),
        ("Unit that is dropped", ""),
    ]
    assert [state.unit.code for state in find.dropped(enrolment, newer)] == ["removal"]
    states = find.unit_states(enrolment, newer)
    assert [(state.unit.version, state.is_passed) for state in states] == [(newer, True), (newer, False)]


def test_students_on_a_version_and_students_on_any(cast, now):
    version = make_programme(cast.owner)
    make_enrolment(cast.bea, cast.owner)
    ended = make_enrolment(cast.ada, cast.owner, version)
    assert [each.student for each in find.students_on(version)] == [cast.ada]
    assert list(find.enrolled_students(cast.academy)) == [cast.ada, cast.bea]
    end_enrolment(enrolment=ended, reason="left", actor=cast.owner, now=now)
    assert list(find.students_on(version)) == []
    assert list(find.enrolled_students(cast.academy)) == [cast.bea]
