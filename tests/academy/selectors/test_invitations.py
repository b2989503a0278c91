"""Tokens that nobody can guess, and the row each opens."""

from base64 import urlsafe_b64decode
from datetime import timedelta
from hashlib import sha256

import pytest

from academy.errors import NotHere
from academy.models import Role
from academy.selectors.invitations import (
    InvitationNotKnown,
    InvitationRanOut,
    invitation_by_token,
    invitation_token,
    open_invitation,
    open_invitations,
)
from academy.services.invitations import invite_person, renew_invitation, withdraw_invitation

pytestmark = pytest.mark.django_db


@pytest.fixture
def invitation(cast, now):
    return invite_person(
        actor=cast.owner,
        name="Mira Tamsin",
        email="mira@people.example",
        role=Role.STUDENT,
        cohort=None,
        now=now,
    )


def test_the_token_is_32_bytes_and_only_its_sha256_is_kept(invitation):
    token = invitation_token(invitation)
    assert len(urlsafe_b64decode(token + "=")) == 32
    assert invitation.token_digest == sha256(token.encode()).hexdigest()


def test_the_token_can_be_made_again_from_the_stored_row(invitation):
    token = invitation_token(invitation)
    invitation.refresh_from_db()
    assert invitation_token(invitation) == token


def test_the_token_depends_on_the_secret_key(invitation, settings):
    token = invitation_token(invitation)
    settings.SECRET_KEY = "another key, which an attacker would have to know"
    assert invitation_token(invitation) != token


def test_the_link_opens_its_invitation_until_it_runs_out(invitation, now):
    token = invitation_token(invitation)
    assert invitation_by_token(token, now=now) == invitation
    with pytest.raises(InvitationRanOut):
        invitation_by_token(token, now=invitation.expires_at)


@pytest.mark.parametrize("token", ["", "x", "☃", "%00", "a" * 5000])
def test_a_garbled_link_opens_nothing(invitation, now, token):
    with pytest.raises(InvitationNotKnown):
        invitation_by_token(token, now=now)


def test_the_old_link_of_a_renewed_invitation_opens_nothing(cast, invitation, now):
    token = invitation_token(invitation)
    renewed = renew_invitation(actor=cast.owner, invitation=invitation, now=now + timedelta(minutes=1))
    with pytest.raises(InvitationNotKnown):
        invitation_by_token(token, now=now)
    assert invitation_by_token(invitation_token(renewed), now=now) == invitation


def test_open_invitations_are_those_of_one_academy(cast, invitation, now):
    assert list(open_invitations(cast.academy)) == [invitation]
    assert list(open_invitations(cast.other_academy)) == []
    with pytest.raises(NotHere):
        open_invitation(cast.other_academy, invitation.pk)


def test_a_withdrawn_invitation_is_no_longer_open(cast, invitation, now):
    withdraw_invitation(actor=cast.owner, invitation=invitation, now=now)
    with pytest.raises(NotHere):
        open_invitation(cast.academy, invitation.pk)
