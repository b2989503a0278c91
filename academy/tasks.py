"""Background work of this floor: fetch by key, do one thing, be harmless when repeated."""

import logging
from smtplib import SMTPException

from celery import shared_task

from academy.emails import invitation_letter
from academy.mail import send
from academy.models import Invitation
from academy.selectors.invitations import invitation_token, token_digest

log = logging.getLogger(__name__)


@shared_task(autoretry_for=(SMTPException, OSError), retry_backoff=30, retry_backoff_max=1800, max_retries=6)
def send_invitation(*, invitation_id: int) -> None:
    """Send the letter of an open invitation; its link is made from the row, not passed along."""
    invitation = (
        Invitation.objects.select_related("academy", "invited_by__user").filter(pk=invitation_id).first()
    )
    if invitation is None or invitation.accepted_at or invitation.withdrawn_at:
        return
    if token_digest(invitation_token(invitation)) != invitation.token_digest:
        log.error(
            "Invitation %s was made under another secret key: send it again from the people page",
            invitation_id,
        )
        return
    send(invitation_letter(invitation))
