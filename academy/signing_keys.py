"""The one door to signing keys: encrypted files outside the database, added to and never replaced."""

from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey

from academy.errors import DomainError


class NoSigningKey(DomainError):
    """The academy has no key yet, so nothing can be signed for it."""


class KeyUnreadable(DomainError):
    """The key's file is there but cannot be opened, mostly because the passphrase is another one."""


def make_key(academy_id: int) -> RSAPrivateKey:
    """A new key for the academy, kept encrypted; from now on it signs. Earlier ones stay."""
    raise NotImplementedError


def newest_key(academy_id: int) -> RSAPrivateKey:
    """The key that signs now; NoSigningKey when none was made."""
    raise NotImplementedError


def all_keys(academy_id: int) -> list[RSAPrivateKey]:
    """Every key made for the academy, oldest first."""
    raise NotImplementedError
