import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from academy.errors import NotHere
from courses.selectors import programmes as find
from courses.services.enrolments import end_enrolment
from courses.services.programmes import copy_programme_version, retire_programme
from tests.factories.academy import make_member
from tests.factories.programmes import make_enrolment, make_programme, make_programme_draft, next_version
from tests.factories.rubrics import starter_rubric


def test_versions_come_newest_first_with_units_and_students_and_retired_ones_last(cast, now):
    first = make_programme(cast.owner, "Foundation")
    second = next_version(first, cast.owner)
    old = make_programme(cast.owner, "Abandoned")
    make_enrolment(cast.ada, cast.owner, first)
    make_enrolment(cast.bea, cast.owner, old)
    retire_programme(programme=old.programme, actor=cast.owner, now=now)
    make_programme(cast.omar, "Next door")
    found = list(find.programme_versions(cast.academy))
    assert [(each.pk, each.units_count, each.students) for each in found] == [
        (second.pk, 3, 0),
        (first.pk, 3, 1),
        (old.pk, 3, 1),
    ]


def test_students_who_left_or_ended_are_not_counted(cast, now):
    version = make_programme(cast.owner)
    make_enrolment(cast.bea, cast.owner, version)
    ended = make_enrolment(cast.ada, cast.owner, version)
    end_enrolment(enrolment=ended, reason="left", actor=cast.owner, now=now)
    cast.bea.left_at = now
    cast.bea.save()
    assert find.version(cast.academy, version.pk).students == 0


def test_a_version_of_another_academy_is_not_here(cast):
    version = make_programme(cast.omar)
    with pytest.raises(NotHere):
        find.version(cast.academy, version.pk)


def test_a_version_costs_two_queries_with_its_units(cast):
    version = make_programme(cast.owner)
    with CaptureQueriesContext(connection) as asked:
        assert len(find.version(cast.academy, version.pk).content.units) == 3
    assert len(asked) == 2


def test_the_newest_published_version_of_each_programme_is_offered(cast, now):
    newest = next_version(make_programme(cast.owner, "Foundation"), cast.owner)
    copy_programme_version(version=newest, actor=cast.owner, now=now)
    make_programme_draft(cast.owner, "Draft only")
    retired = make_programme(cast.owner, "Retired")
    retire_programme(programme=retired.programme, actor=cast.owner, now=now)
    make_programme(cast.omar, "Next door")
    assert list(find.offered_versions(cast.academy)) == [newest]


def test_students_on_no_programme_are_found_also_after_an_ended_one(cast, now):
    make_enrolment(cast.bea, cast.owner)
    ended = make_enrolment(cast.ada, cast.owner)
    end_enrolment(enrolment=ended, reason="left", actor=cast.owner, now=now)
    late = make_member(cast.academy, "Cleo Nym")
    assert list(find.not_enrolled(cast.academy)) == [cast.ada, late]


def test_names_of_purposes_and_skills_are_those_of_the_house(cast):
    starter_rubric(cast.academy, cast.owner)
    names = find.names()
    assert names.purposes["assessment_record"] == "assessment record"
    assert names.skills["isolation"]


def test_a_programme_is_found_by_its_name_and_its_draft_by_it(cast, now):
    version = make_programme(cast.owner, "Foundation")
    programme = find.programme_named(cast.academy, "FOUNDATION")
    assert programme == version.programme
    assert find.programme_named(cast.other_academy, "Foundation") is None
    assert find.draft_of(version.programme) is None
    draft = copy_programme_version(version=version, actor=cast.owner, now=now)
    assert find.draft_of(version.programme) == draft


def test_the_version_before_is_the_newest_published_one_of_lower_number(cast):
    first = make_programme(cast.owner)
    third = next_version(next_version(first, cast.owner), cast.owner)
    assert find.published_before(first) is None
    before = find.published_before(third)
    assert (before.number, len(before.units.all())) == (2, 3)
