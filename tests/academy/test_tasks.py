"""The letter of an invitation: sent while it is open, harmless when repeated."""

import pytest

from academy.models import Role
from academy.selectors.invitations import invitation_token
from academy.services.invitations import accept_invitation, invite_person, withdraw_invitation
from academy.tasks import send_invitation

pytestmark = pytest.mark.django_db


@pytest.fixture
def invitation(cast, now):
    return invite_person(
        actor=cast.owner, name="Mira", email="mira@people.example", role=Role.STUDENT, cohort=None, now=now
    )


def test_the_letter_holds_a_link_made_from_the_row(invitation, mailoutbox):
    send_invitation(invitation_id=invitation.pk)
    assert invitation_token(invitation) in mailoutbox[0].body


def test_nothing_is_sent_for_an_invitation_that_is_closed_or_gone(cast, invitation, now, mailoutbox):
    accept_invitation(invitation=invitation, user=None, now=now)
    send_invitation(invitation_id=invitation.pk)
    send_invitation(invitation_id=0)
    assert mailoutbox == []


def test_nothing_is_sent_for_one_that_was_withdrawn(cast, invitation, now, mailoutbox):
    withdraw_invitation(actor=cast.owner, invitation=invitation, now=now)
    send_invitation(invitation_id=invitation.pk)
    assert mailoutbox == []


def test_a_link_that_would_not_open_is_not_sent(invitation, mailoutbox, settings, caplog):
    settings.SECRET_KEY = "the key was changed between inviting and sending"
    send_invitation(invitation_id=invitation.pk)
    assert mailoutbox == [] and "made under another secret key" in caplog.text


@pytest.mark.services
@pytest.mark.django_db(transaction=True)
def test_a_worker_tries_again_when_the_mail_server_is_busy(cast, now, celery_worker_process, smtp_server):
    smtp_server.replies.append("451 Busy, come back later")
    invitation = invite_person(
        actor=cast.owner, name="Mira", email="mira@people.example", role=Role.STUDENT, cohort=None, now=now
    )
    letters = smtp_server.wait_for(1, limit_s=60)
    assert smtp_server.attempts == 2
    assert invitation_token(invitation) in letters[0].get_body(("plain",)).get_content()
