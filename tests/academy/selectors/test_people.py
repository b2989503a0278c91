"""Questions about people stop at the academy's door."""

import pytest

from academy.errors import NotHere
from academy.models import Role
from academy.selectors import people
from tests.factories.academy import make_cohort, make_member

pytestmark = pytest.mark.django_db


def test_members_are_those_of_one_academy_by_name(cast):
    expected = [cast.ada, cast.bea, cast.ines, cast.second, cast.owner]
    assert list(people.members(cast.academy)) == expected
    assert list(people.students(cast.academy)) == [cast.ada, cast.bea]
    assert list(people.members(cast.academy, Role.OWNER)) == [cast.owner]


def test_those_who_left_are_no_longer_found(cast, now):
    cast.ada.left_at = now
    cast.ada.save()
    assert cast.ada not in people.members(cast.academy)
    assert list(people.memberships_of(cast.ada.user)) == []
    with pytest.raises(NotHere):
        people.member(cast.academy, cast.ada.pk)


def test_a_foreign_id_is_not_here(cast):
    with pytest.raises(NotHere):
        people.member(cast.academy, cast.omar.pk)
    with pytest.raises(NotHere):
        people.cohort(cast.academy, make_cohort(cast.other_academy).pk)


def test_a_member_of_another_role_is_not_here(cast):
    assert people.member(cast.academy, cast.ada.pk, Role.STUDENT) == cast.ada
    with pytest.raises(NotHere):
        people.member(cast.academy, cast.ines.pk, Role.STUDENT)


def test_the_list_of_people_goes_by_role_then_newest_cohort_then_name(cast):
    newer = make_cohort(cast.academy, "Summer", starts_on=cast.cohort.starts_on.replace(month=6))
    zoe = make_member(cast.academy, "Zoe Quist", cohort=newer)
    alone = make_member(cast.academy, "Abi Lowe")
    assert list(people.people(cast.academy)) == [
        cast.owner,
        cast.ines,
        cast.second,
        zoe,
        cast.ada,
        cast.bea,
        alone,
    ]


@pytest.mark.parametrize("typed", ["ada m", "MARSH", "ada.marsh@people"])
def test_people_are_found_by_part_of_name_or_address(cast, typed):
    assert list(people.people(cast.academy, typed)) == [cast.ada]


def test_nobody_of_another_academy_is_found(cast):
    assert list(people.people(cast.academy, "Omar")) == []


def test_cohorts_count_the_students_of_today(cast, now):
    cast.bea.left_at = now
    cast.bea.save()
    assert [(cohort.name, cohort.size) for cohort in people.cohorts_with_sizes(cast.academy)] == [
        (cast.cohort.name, 1)
    ]


def test_an_address_finds_its_person_whatever_its_case(cast):
    assert people.person_at(cast.ada.user.email.upper()) == cast.ada.user
    assert people.person_at("nobody@people.example") is None
