from datetime import timedelta

import pytest

from academy.errors import NotHere
from academy.models import AuditEntry
from courses.models import Enrolment, EnrolmentMove
from courses.selectors.enrolments import open_enrolment
from courses.services.enrolments import (
    AlreadyEnrolled,
    EnrolmentEnded,
    NotANewerVersion,
    ReasonMissing,
    VersionNotOffered,
    end_enrolment,
    enrol,
    enrol_students,
    move_enrolment,
)
from courses.services.programmes import copy_programme_version, retire_programme
from tests.factories.programmes import make_enrolment, make_programme, make_programme_draft, next_version


def test_an_enrolment_pins_the_version_also_when_a_newer_one_is_published(cast, now):
    first = make_programme(cast.owner)
    enrolment = enrol(student=cast.ada, version=first, actor=cast.owner, now=now)
    next_version(first, cast.owner)
    enrolment.refresh_from_db()
    assert (enrolment.version, enrolment.enrolled_at, enrolment.ended_at) == (first, now, None)
    assert AuditEntry.objects.get(action="enrol").after == {"student": cast.ada.pk, "version": first.pk}


def test_a_student_is_on_one_programme_at_a_time(cast, now):
    make_enrolment(cast.ada, cast.owner)
    other = make_programme(cast.owner, "Another course")
    with pytest.raises(AlreadyEnrolled, match="Ada Marsh is already on a programme"):
        enrol(student=cast.ada, version=other, actor=cast.owner, now=now)


def test_only_current_students_of_the_same_academy_are_enrolled(cast, now):
    version = make_programme(cast.owner)
    cast.bea.left_at = now
    cast.bea.save()
    for nobody in (cast.ines, cast.bea, cast.omar_student):
        with pytest.raises(NotHere):
            enrol(student=nobody, version=version, actor=cast.owner, now=now)
    assert not Enrolment.objects.exists()


def test_nobody_is_enrolled_on_a_draft_or_a_retired_programme(cast, now):
    draft = make_programme_draft(cast.owner, "Draft course")
    retired = make_programme(cast.owner, "Retired course")
    retire_programme(programme=retired.programme, actor=cast.owner, now=now)
    retired.programme.refresh_from_db()
    for version in (draft, retired):
        with pytest.raises(VersionNotOffered):
            enrol(student=cast.ada, version=version, actor=cast.owner, now=now)


def test_several_are_enrolled_together_or_nobody(cast, now):
    version = make_programme(cast.owner)
    make_enrolment(cast.bea, cast.owner)
    with pytest.raises(AlreadyEnrolled):
        enrol_students(students=[cast.ada, cast.bea], version=version, actor=cast.owner, now=now)
    assert open_enrolment(cast.ada) is None
    enrol_students(students=[cast.ada], version=version, actor=cast.owner, now=now)
    assert open_enrolment(cast.ada).version == version


def test_a_move_is_kept_with_its_reason(cast, now):
    first = make_programme(cast.owner)
    enrolment = make_enrolment(cast.ada, cast.owner, first)
    newer = next_version(first, cast.owner)
    move_enrolment(
        enrolment=enrolment, version=newer, reason=" She asked for it. ", actor=cast.owner, now=now
    )
    enrolment.refresh_from_db()
    move = EnrolmentMove.objects.get()
    assert enrolment.version == newer
    assert (move.from_version, move.to_version, move.reason) == (first, newer, "She asked for it.")
    entry = AuditEntry.objects.get(action="move_enrolment")
    assert (entry.before, entry.after) == ({"version": first.pk}, {"version": newer.pk})


def test_a_student_moves_only_forward_in_her_own_programme(cast, now):
    first = make_programme(cast.owner)
    second = next_version(first, cast.owner)
    draft = copy_programme_version(version=second, actor=cast.owner, now=now)
    other = next_version(make_programme(cast.owner, "Another course"), cast.owner)
    enrolment = make_enrolment(cast.ada, cast.owner, second)
    for version in (first, second, draft, other):
        with pytest.raises(NotANewerVersion):
            move_enrolment(enrolment=enrolment, version=version, reason="why", actor=cast.owner, now=now)
    assert not EnrolmentMove.objects.exists()


def test_moving_and_ending_need_a_reason(cast, now):
    first = make_programme(cast.owner)
    enrolment = make_enrolment(cast.ada, cast.owner, first)
    newer = next_version(first, cast.owner)
    with pytest.raises(ReasonMissing):
        move_enrolment(enrolment=enrolment, version=newer, reason=" ", actor=cast.owner, now=now)
    with pytest.raises(ReasonMissing):
        end_enrolment(enrolment=enrolment, reason="", actor=cast.owner, now=now)


def test_an_ended_enrolment_stays_as_it_is_and_the_student_may_be_enrolled_anew(cast, now):
    first = make_programme(cast.owner)
    enrolment = make_enrolment(cast.ada, cast.owner, first)
    end_enrolment(enrolment=enrolment, reason="She moved away.", actor=cast.owner, now=now)
    newer = next_version(first, cast.owner)
    with pytest.raises(EnrolmentEnded):
        move_enrolment(enrolment=enrolment, version=newer, reason="why", actor=cast.owner, now=now)
    with pytest.raises(EnrolmentEnded):
        end_enrolment(enrolment=enrolment, reason="why", actor=cast.owner, now=now)
    again = enrol(student=cast.ada, version=newer, actor=cast.owner, now=now + timedelta(days=1))
    assert open_enrolment(cast.ada) == again
