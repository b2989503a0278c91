"""Places offered by e-mail: once, for a week, to one address, in one academy."""

from datetime import timedelta

import pytest
from allauth.account.models import EmailAddress
from django.conf import settings

from academy.models import AuditEntry, Invitation, Membership, Role, User
from academy.selectors.invitations import (
    InvitationRanOut,
    InvitationUsed,
    InvitationWithdrawn,
    invitation_token,
)
from academy.services.invitations import (
    AlreadyHere,
    AlreadyInvited,
    InvitationClosed,
    NotYourInvitation,
    SignInFirst,
    accept_invitation,
    invite_person,
    renew_invitation,
    withdraw_invitation,
)
from academy.services.people import NameNotUsable, end_membership
from tests.factories.academy import PASSWORD, make_user

pytestmark = pytest.mark.django_db


def offer(cast, now, email="mira@people.example", *, name="Mira Tamsin", role=Role.STUDENT, cohort=None):
    return invite_person(actor=cast.owner, name=name, email=email, role=role, cohort=cohort, now=now)


def test_an_invitation_lasts_as_long_as_the_settings_say(cast, now):
    assert offer(cast, now).expires_at == now + settings.INVITATION_LIFETIME


def test_the_token_is_nowhere_in_the_row(cast, now):
    invitation = offer(cast, now)
    token = invitation_token(invitation)
    values = [str(value) for value in Invitation.objects.values_list().get(pk=invitation.pk)]
    assert not any(token in value for value in values)


def test_the_letter_goes_out_after_the_row_is_committed(
    cast, now, mailoutbox, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        offer(cast, now)
        assert mailoutbox == []
    assert [letter.to for letter in mailoutbox] == [["Mira Tamsin <mira@people.example>"]]


def test_an_address_is_invited_once_whatever_its_case(cast, now):
    offer(cast, now)
    with pytest.raises(AlreadyInvited):
        offer(cast, now, "MIRA@People.Example")
    assert Invitation.objects.count() == 1


def test_two_academies_may_invite_the_same_address(cast, now):
    offer(cast, now)
    invite_person(
        actor=cast.omar,
        name="Mira Tamsin",
        email="mira@people.example",
        role=Role.STUDENT,
        cohort=None,
        now=now,
    )
    assert Invitation.objects.count() == 2


def test_somebody_who_is_here_is_not_invited_again(cast, now):
    with pytest.raises(AlreadyHere):
        offer(cast, now, cast.ada.user.email.upper())


@pytest.mark.parametrize(
    "name", ["Mira\nBcc: all@people.example", "Mira\r\nTamsin", "Mi\x00ra", "  ", "x" * 121]
)
def test_a_name_that_would_break_a_letter_is_refused(cast, now, name):
    with pytest.raises(NameNotUsable):
        offer(cast, now, name=name)
    assert Invitation.objects.count() == 0


def test_only_students_belong_to_a_cohort(cast, now):
    assert offer(cast, now, role=Role.EDUCATOR, cohort=cast.cohort).cohort is None
    assert offer(cast, now, "b@people.example", cohort=cast.cohort).cohort == cast.cohort


def test_accepting_makes_an_account_whose_address_counts_as_confirmed(cast, now):
    invitation = offer(cast, now, cohort=cast.cohort)
    place = accept_invitation(
        invitation=invitation, user=None, name="Mira T.", password=PASSWORD, now=now + timedelta(days=1)
    )
    assert (place.academy, place.role, place.cohort) == (cast.academy, Role.STUDENT, cast.cohort)
    assert place.user.name == "Mira T." and place.user.check_password(PASSWORD)
    address = EmailAddress.objects.get(user=place.user)
    assert (address.email, address.verified, address.primary) == ("mira@people.example", True, True)


def test_without_a_password_the_account_has_none(cast, now):
    place = accept_invitation(invitation=offer(cast, now), user=None, now=now)
    assert place.user.name == "Mira Tamsin" and not place.user.has_usable_password()


def test_an_invitation_is_accepted_once(cast, now):
    invitation = offer(cast, now)
    accept_invitation(invitation=invitation, user=None, now=now)
    with pytest.raises(InvitationUsed):
        accept_invitation(invitation=invitation, user=None, now=now)
    assert User.objects.filter(email="mira@people.example").count() == 1


def test_an_invitation_that_ran_out_is_refused_at_that_very_instant(cast, now):
    invitation = offer(cast, now)
    with pytest.raises(InvitationRanOut):
        accept_invitation(invitation=invitation, user=None, now=invitation.expires_at)
    accept_invitation(invitation=invitation, user=None, now=invitation.expires_at - timedelta(microseconds=1))


def test_a_withdrawn_invitation_is_refused(cast, now):
    invitation = offer(cast, now)
    withdraw_invitation(actor=cast.owner, invitation=invitation, now=now)
    with pytest.raises(InvitationWithdrawn):
        accept_invitation(invitation=invitation, user=None, now=now)


def test_an_accepted_invitation_is_neither_withdrawn_nor_renewed(cast, now):
    invitation = offer(cast, now)
    accept_invitation(invitation=invitation, user=None, now=now)
    for change in (withdraw_invitation, renew_invitation):
        with pytest.raises(InvitationClosed):
            change(actor=cast.owner, invitation=invitation, now=now)


def test_renewing_makes_a_new_link_and_a_new_last_day(cast, now):
    invitation = offer(cast, now)
    later = now + timedelta(days=30)
    renewed = renew_invitation(actor=cast.owner, invitation=invitation, now=later)
    assert renewed.expires_at == later + settings.INVITATION_LIFETIME
    assert renewed.token_digest != invitation.token_digest


def test_somebody_with_an_account_signs_in_before_accepting(cast, now):
    invitation = offer(cast, now, cast.omar.user.email)
    with pytest.raises(SignInFirst):
        accept_invitation(invitation=invitation, user=None, now=now)
    place = accept_invitation(invitation=invitation, user=cast.omar.user, now=now)
    assert set(Membership.objects.filter(user=cast.omar.user)) == {cast.omar, place}


def test_nobody_accepts_an_invitation_for_another_address(cast, now):
    invitation = offer(cast, now, make_user("Mira Tamsin").email)
    with pytest.raises(NotYourInvitation):
        accept_invitation(invitation=invitation, user=cast.omar.user, now=now)


def test_a_signed_in_person_does_not_accept_for_an_address_without_account(cast, now):
    with pytest.raises(NotYourInvitation):
        accept_invitation(invitation=offer(cast, now), user=cast.omar.user, now=now)


def test_coming_back_takes_up_the_old_place_so_that_marks_stay_together(cast, now):
    end_membership(actor=cast.owner, member=cast.ada, now=now)
    invitation = offer(cast, now, cast.ada.user.email, role=Role.EDUCATOR)
    place = accept_invitation(invitation=invitation, user=cast.ada.user, now=now)
    assert place.pk == cast.ada.pk
    assert (place.left_at, place.role, place.joined_at) == (None, Role.EDUCATOR, cast.ada.joined_at)


def test_every_step_is_in_the_record_without_names_or_addresses(cast, now):
    invitation = offer(cast, now)
    renewed = renew_invitation(actor=cast.owner, invitation=invitation, now=now + timedelta(hours=1))
    accept_invitation(invitation=renewed, user=None, now=now + timedelta(hours=2))
    entries = AuditEntry.objects.order_by("id")
    assert [entry.action for entry in entries] == ["invite_person", "renew_invitation", "accept_invitation"]
    assert "ira" not in "".join(f"{entry.before}{entry.after}" for entry in entries)
