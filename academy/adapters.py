"""How signing in fits the house: places are by invitation only, and secrets of the second step are sealed."""

from base64 import urlsafe_b64encode

from allauth.account.adapter import DefaultAccountAdapter
from allauth.mfa.adapter import DefaultMFAAdapter
from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.http import HttpRequest

from academy.errors import DomainError

SEALED = "sealed:"


class SecondStepUnreadable(DomainError):
    def __init__(self) -> None:
        super().__init__(
            "second_step_unreadable",
            "The secret of this second step cannot be opened: the key it was sealed with is missing. Add it "
            "to FANLIGHT_OLD_SECRETS, or remove the second step and set it up anew.",
        )


class AccountAdapter(DefaultAccountAdapter):  # type: ignore[misc]
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False


class MFAAdapter(DefaultMFAAdapter):  # type: ignore[misc]
    """Keys of authenticator apps and seeds of recovery codes are of no use to who has only the database.

    Sealed with the first of SEALING_SECRETS and opened with any, so that secrets can be changed. What was
    kept before there was a seal is read as it is.
    """

    def encrypt(self, text: str) -> str:
        return SEALED + _seal().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        if not encrypted_text.startswith(SEALED):
            return encrypted_text
        try:
            return _seal().decrypt(encrypted_text.removeprefix(SEALED)).decode()
        except InvalidToken as error:
            raise SecondStepUnreadable from error


def _seal() -> MultiFernet:
    return MultiFernet([Fernet(_key(secret)) for secret in settings.SEALING_SECRETS])


def _key(secret: str) -> bytes:
    """HKDF (RFC 5869) with a purpose of its own: knowing this key tells nothing about the secret."""
    derive = HKDF(algorithm=SHA256(), length=32, salt=None, info=b"fanlight second step 1")
    return urlsafe_b64encode(derive.derive(secret.encode()))
