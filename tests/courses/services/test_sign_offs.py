from datetime import timedelta

import pytest

from academy.errors import NotHere
from academy.models import AuditEntry, RecordIsFinal
from courses.models import UnitSignOff
from courses.selectors.enrolments import unit_states
from courses.services.enrolments import EnrolmentEnded, end_enrolment, move_enrolment
from courses.services.sign_offs import NotPassedWithoutNote, NoUnitChosen, sign_off
from tests.factories.programmes import HYGIENE, REMOVAL, make_enrolment, make_programme, next_version


@pytest.fixture
def enrolment(cast):
    return make_enrolment(cast.ada, cast.owner)


def units(enrolment, *codes):
    return list(enrolment.version.units.filter(code__in=codes))


def passed(enrolment):
    return {state.unit.code for state in unit_states(enrolment) if state.is_passed}


def test_several_units_are_signed_at_once_with_one_entry_in_the_record(cast, enrolment, now):
    sign_off(
        enrolment=enrolment,
        units=units(enrolment, "hygiene", "removal"),
        passed=True,
        actor=cast.ines,
        now=now,
    )
    assert passed(enrolment) == {"hygiene", "removal"}
    assert AuditEntry.objects.get(action="sign_off").after == {
        "units": ["hygiene", "removal"],
        "passed": True,
    }


def test_the_newest_word_counts_and_the_first_stays_readable(cast, enrolment, now):
    chosen = units(enrolment, "removal")
    sign_off(enrolment=enrolment, units=chosen, passed=True, actor=cast.ines, now=now)
    later = now + timedelta(days=1)
    sign_off(
        enrolment=enrolment, units=chosen, passed=False, note="Do it again.", actor=cast.second, now=later
    )
    state = next(each for each in unit_states(enrolment) if each.unit.code == "removal")
    assert (state.is_passed, state.sign_off.note, state.sign_off.signed_by) == (
        False,
        "Do it again.",
        cast.second,
    )
    assert [(row.passed, row.signed_by) for row in state.earlier] == [(True, cast.ines)]


def test_not_passed_needs_a_word_on_what_is_missing(cast, enrolment, now):
    with pytest.raises(NotPassedWithoutNote):
        sign_off(
            enrolment=enrolment,
            units=units(enrolment, "removal"),
            passed=False,
            note="  ",
            actor=cast.ines,
            now=now,
        )


def test_only_units_of_the_version_she_is_on_are_signed_and_at_least_one(cast, enrolment, now):
    other = make_programme(cast.owner, "Another course").units.all()[0]
    with pytest.raises(NotHere):
        sign_off(enrolment=enrolment, units=[other], passed=True, actor=cast.ines, now=now)
    with pytest.raises(NoUnitChosen):
        sign_off(enrolment=enrolment, units=[], passed=True, actor=cast.ines, now=now)
    assert not UnitSignOff.objects.exists()


def test_what_was_signed_still_counts_after_a_move_unless_the_unit_is_dropped(cast, enrolment, now):
    signed = units(enrolment, "hygiene", "removal")
    sign_off(enrolment=enrolment, units=signed, passed=True, actor=cast.ines, now=now)
    newer = next_version(enrolment.version, cast.owner, units=(REMOVAL, HYGIENE))
    newest = next_version(newer, cast.owner, units=(HYGIENE,))
    for version, counted in ((newer, {"hygiene", "removal"}), (newest, {"hygiene"})):
        move_enrolment(enrolment=enrolment, version=version, reason="why", actor=cast.owner, now=now)
        enrolment.refresh_from_db()
        assert passed(enrolment) == counted


def test_nothing_is_signed_once_the_enrolment_has_ended(cast, enrolment, now):
    chosen = units(enrolment, "removal")
    end_enrolment(enrolment=enrolment, reason="left", actor=cast.owner, now=now)
    with pytest.raises(EnrolmentEnded):
        sign_off(enrolment=enrolment, units=chosen, passed=True, actor=cast.ines, now=now)


def test_a_sign_off_is_never_changed_or_removed(cast, enrolment, now):
    (row,) = sign_off(
        enrolment=enrolment, units=units(enrolment, "removal"), passed=True, actor=cast.ines, now=now
    )
    for attempt in (row.save, row.delete, UnitSignOff.objects.all().delete):
        with pytest.raises(RecordIsFinal):
            attempt()
