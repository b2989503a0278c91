"""Questions about offered places, and the token that opens one.

The token is never stored: it is a keyed hash of what the row already holds, so that the task which writes
the letter can make it again from the row alone, and a renewed row (another ``invited_at``) has another token.
The row keeps only the token's SHA-256 digest.
"""

from base64 import urlsafe_b64encode
from datetime import UTC, datetime
from hashlib import sha256

from django.db.models import QuerySet
from django.utils.crypto import salted_hmac

from academy.errors import DomainError, NotHere
from academy.models import Academy, Invitation


class InvitationNotKnown(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "invitation_not_known",
            "This link opens no invitation. Part of it may be missing, or a newer one has replaced it: "
            "open the link in the newest letter, or ask the academy to invite you again.",
        )


class InvitationUsed(DomainError):
    def __init__(self) -> None:
        super().__init__("invitation_used", "This invitation has already been accepted. Sign in to go on.")


class InvitationWithdrawn(DomainError):
    def __init__(self, invitation: Invitation) -> None:
        super().__init__(
            "invitation_withdrawn",
            f"{invitation.academy.name} has withdrawn this invitation. If you expected a place, ask them.",
        )


class InvitationRanOut(DomainError):
    def __init__(self, invitation: Invitation) -> None:
        super().__init__(
            "invitation_ran_out",
            f"This invitation ran out on {invitation.expires_at:%d %B %Y}. "
            f"Ask {invitation.academy.name} to send it again.",
        )


def invitation_token(invitation: Invitation) -> str:
    """32 bytes, URL-safe base64; nobody can make it without the secret key."""
    sent = invitation.invited_at.astimezone(UTC).isoformat(timespec="microseconds")
    row = f"{invitation.academy_id} {invitation.email} {sent}"
    digest = salted_hmac("academy.invitation", row, algorithm="sha256").digest()
    return urlsafe_b64encode(digest).rstrip(b"=").decode()


def token_digest(token: str) -> str:
    return sha256(token.encode()).hexdigest()


def open_invitations(academy: Academy) -> QuerySet[Invitation]:
    """Not yet taken up, not withdrawn; those that ran out are among them until withdrawn or renewed."""
    return Invitation.objects.filter(academy=academy, accepted_at=None, withdrawn_at=None).select_related(
        "invited_by__user", "cohort"
    )


def open_invitation(academy: Academy, invitation_id: int) -> Invitation:
    """One query; a foreign, closed or unknown id is NotHere."""
    found = open_invitations(academy).select_related("academy").filter(pk=invitation_id).first()
    if found is None:
        raise NotHere("open invitation")
    return found


def invitation_by_token(token: str, *, now: datetime) -> Invitation:
    """The invitation this link opens, if it may still be accepted. One query."""
    found = (
        Invitation.objects.filter(token_digest=token_digest(token))
        .select_related("academy", "cohort", "invited_by__user")
        .first()
    )
    if found is None:
        raise InvitationNotKnown
    check_open(found, now=now)
    return found


def check_open(invitation: Invitation, *, now: datetime) -> None:
    """Raise what stands in the way of accepting it, if anything does."""
    if invitation.accepted_at:
        raise InvitationUsed
    if invitation.withdrawn_at:
        raise InvitationWithdrawn(invitation)
    if invitation.expires_at <= now:
        raise InvitationRanOut(invitation)
