"""Changes to places: never without an owner, always on record."""

import pytest
from allauth.account.models import EmailAddress

from academy.models import AuditEntry, Membership, Role
from academy.services.people import (
    AddressTaken,
    LastOwner,
    NameNotUsable,
    add_person,
    change_role,
    clean_name,
    end_membership,
)
from tests.factories.academy import make_member

pytestmark = pytest.mark.django_db


def test_a_student_becomes_an_educator_and_leaves_the_cohort(cast, now):
    place = change_role(actor=cast.owner, member=cast.ada, role=Role.EDUCATOR, cohort=cast.cohort, now=now)
    assert (place.role, place.cohort) == (Role.EDUCATOR, None)
    entry = AuditEntry.objects.get()
    assert (entry.action, entry.actor, entry.at) == ("change_role", cast.owner, now)
    assert entry.before == {"role": "student", "cohort": cast.cohort.pk}
    assert entry.after == {"role": "educator", "cohort": None}


def test_changing_nothing_leaves_no_trace(cast, now):
    change_role(actor=cast.owner, member=cast.ada, role=Role.STUDENT, cohort=cast.cohort, now=now)
    assert not AuditEntry.objects.exists()


def test_the_last_owner_stays_owner(cast, now):
    with pytest.raises(LastOwner) as refusal:
        change_role(actor=cast.owner, member=cast.owner, role=Role.EDUCATOR, cohort=None, now=now)
    assert refusal.value.details == {"field": "role"}
    with pytest.raises(LastOwner):
        end_membership(actor=cast.owner, member=cast.owner, now=now)


def test_an_owner_of_another_academy_does_not_count(cast, now):
    make_member(cast.other_academy, "Pia Rusk", Role.OWNER)
    with pytest.raises(LastOwner):
        end_membership(actor=cast.owner, member=cast.owner, now=now)


def test_an_owner_who_has_left_does_not_count(cast, now):
    second = make_member(cast.academy, "Pia Rusk", Role.OWNER)
    end_membership(actor=cast.owner, member=second, now=now)
    with pytest.raises(LastOwner):
        end_membership(actor=cast.owner, member=cast.owner, now=now)


def test_one_of_two_owners_may_go(cast, now):
    make_member(cast.academy, "Pia Rusk", Role.OWNER)
    end_membership(actor=cast.owner, member=cast.owner, now=now)
    assert Membership.objects.get(pk=cast.owner.pk).left_at == now


def test_ending_a_place_twice_keeps_the_first_day(cast, now):
    end_membership(actor=cast.owner, member=cast.ada, now=now)
    end_membership(actor=cast.owner, member=cast.ada, now=now.replace(year=2027))
    assert Membership.objects.get(pk=cast.ada.pk).left_at == now
    assert AuditEntry.objects.filter(action="end_membership").count() == 1


def test_a_new_person_has_one_confirmed_address_in_small_letters(cast):
    user = add_person(email="Mira@People.Example", name=" Mira Tamsin ", password=None)
    assert (user.email, user.name) == ("mira@people.example", "Mira Tamsin")
    assert EmailAddress.objects.filter(user=user, email=user.email, verified=True).count() == 1


def test_an_address_has_one_account(cast):
    with pytest.raises(AddressTaken):
        add_person(email=cast.ada.user.email.upper(), name="Somebody Else", password=None)


@pytest.mark.parametrize("name", ["O'Brien-Ngũgĩ", "محمد", "李小龍", "x" * 120])
def test_names_of_every_script_are_taken_as_they_are(name):
    assert clean_name(name) == name


@pytest.mark.parametrize("name", ["", " ", "a\nb", "a\u2028b", "a\u202eb", "x" * 121])
def test_a_name_must_fit_on_one_line(name):
    with pytest.raises(NameNotUsable):
        clean_name(name)
