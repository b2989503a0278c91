"""Two people act on one student at the same instant: one is first, the other is told so in a sentence."""

from functools import partial

import pytest

from courses.models import Enrolment, HoursEntry
from courses.services.enrolments import AlreadyEnrolled, NotANewerVersion, enrol, move_enrolment
from courses.services.hours import (
    HoursAlreadyCorrected,
    HoursContent,
    MoreThanADay,
    correct_hours,
    enter_hours,
)
from courses.services.programmes import ProgrammeDraftExists, copy_programme_version
from tests.factories.parallel import at_once
from tests.factories.programmes import ATTENDED, make_enrolment, make_hours, make_programme, next_version

pytestmark = [pytest.mark.services, pytest.mark.django_db(transaction=True)]


def one_was_refused(answers, refusal):
    return [type(answer) for answer in answers if isinstance(answer, Exception)] == [refusal]


def test_a_student_is_enrolled_once(cast, now):
    versions = [make_programme(cast.owner, name) for name in ("Classic", "Volume")]
    tasks = [partial(enrol, student=cast.ada, version=each, actor=cast.owner, now=now) for each in versions]
    assert one_was_refused(at_once(*tasks), AlreadyEnrolled)
    assert Enrolment.objects.count() == 1


def test_a_student_is_moved_once(cast, now):
    first = make_programme(cast.owner)
    enrolment, newer = make_enrolment(cast.ada, cast.owner, first), next_version(first, cast.owner)
    task = partial(
        move_enrolment, enrolment=enrolment, version=newer, reason="why", actor=cast.owner, now=now
    )
    assert one_was_refused(at_once(task, task), NotANewerVersion)


def test_an_entry_is_corrected_once(cast, now):
    entry = make_hours(make_enrolment(cast.ada, cast.owner), cast.ines)
    content = HoursContent(kind="theory", minutes=60, on=ATTENDED)
    task = partial(correct_hours, entry=entry, content=content, reason="why", actor=cast.ines, now=now)
    assert one_was_refused(at_once(task, task), HoursAlreadyCorrected)
    assert HoursEntry.objects.count() == 2


def test_a_day_is_not_filled_twice(cast, now):
    enrolment = make_enrolment(cast.ada, cast.owner)
    content = HoursContent(kind="theory", minutes=800, on=ATTENDED)
    task = partial(enter_hours, enrolment=enrolment, content=content, actor=cast.ines, now=now)
    assert one_was_refused(at_once(task, task), MoreThanADay)


def test_a_version_is_copied_to_one_draft(cast, now):
    version = make_programme(cast.owner)
    task = partial(copy_programme_version, version=version, actor=cast.owner, now=now)
    assert one_was_refused(at_once(task, task), ProgrammeDraftExists)
