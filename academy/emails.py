"""The letters of this floor: what each says, and to whom."""

from django.conf import settings
from django.urls import reverse

from academy.mail import Letter
from academy.models import Invitation
from academy.selectors.invitations import invitation_token


def invitation_letter(invitation: Invitation) -> Letter:
    """Costs queries unless academy and inviter are selected."""
    path = reverse("academy:invitation-accept", args=[invitation_token(invitation)])
    return Letter(
        folder="academy/invitation",
        name=invitation.name,
        address=invitation.email,
        context={
            "academy": invitation.academy,
            "inviter": invitation.invited_by.name,
            "role": invitation.get_role_display().lower(),
            "expires_at": invitation.expires_at,
            "link": f"{settings.SITE_URL}{path}",
        },
    )
